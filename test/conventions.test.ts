/** The conventions that can be checked: who imports whom, what the pure areas keep away from, spelling, sizes, names. */
import fs from 'node:fs';
import path from 'node:path';
import { describe, expect, test } from 'vitest';

const ROOT = path.resolve(import.meta.dirname, '..');

/** Which areas an area may import, and which packages; the table of the house style. */
const AREAS: Record<string, { areas: string[]; packages: RegExp }> = {
  colour: { areas: [], packages: /^culori$/ },
  photo: { areas: ['colour'], packages: /^$/ },
  light: { areas: ['colour'], packages: /^suncalc$/ },
  finish: { areas: ['colour'], packages: /^$/ },
  job: { areas: ['colour', 'light', 'finish'], packages: /^zod$/ },
  studio: {
    areas: ['colour', 'photo', 'light', 'finish', 'job'],
    packages: /^(svelte(\/.*)?|\$app\/.*|comlink|@sveltejs\/kit|@fontsource-variable\/.*)$/,
  },
  server: {
    areas: ['colour', 'photo', 'light', 'finish', 'job'],
    packages:
      /^(node:.*|@sveltejs\/kit|flydrive(\/.*)?|kysely(\/.*)?|ical-generator|libheif-js\/.*|pdfkit|sharp|write-excel-file(\/.*)?)$/,
  },
  routes: {
    areas: ['colour', 'photo', 'light', 'finish', 'job', 'studio', 'server'],
    packages: /^(node:.*|svelte(\/.*)?|\$app\/.*|@sveltejs\/kit(\/.*)?|@fontsource-variable\/.*)$/,
  },
};
const PURE = ['colour', 'photo', 'light', 'finish', 'job'];
const MOST_LINES = 450;

interface Source {
  /** Path from the root, with slashes. */
  name: string;
  text: string;
  area: string | null;
}

function filesUnder(folder: string): string[] {
  const entries = fs.readdirSync(path.join(ROOT, folder), { withFileTypes: true });
  return entries.flatMap((entry) => {
    const name = `${folder}/${entry.name}`;
    return entry.isDirectory() ? filesUnder(name) : [name];
  });
}

function areaOf(name: string): string | null {
  return /^src\/lib\/([^/]+)\//.exec(name)?.[1] ?? (name.startsWith('src/routes/') ? 'routes' : null);
}

const read = (name: string) => fs.readFileSync(path.join(ROOT, name), 'utf8');
const sources: Source[] = filesUnder('src')
  .filter((name) => /\.(ts|js|svelte)$/.test(name))
  .map((name) => ({ name, text: read(name), area: areaOf(name) }));
const ours = sources.filter(({ name }) => !name.includes('/data/'));
const areas = sources.filter((source): source is Source & { area: string } => source.area !== null);

/** Code without its comments; of a component, its scripts. */
function code({ name, text }: Source): string {
  const scripts = name.endsWith('.svelte')
    ? [...text.matchAll(/<script[^>]*>([\s\S]*?)<\/script>/g)].map((match) => match[1]).join('\n')
    : text;
  return scripts.replace(/\/\*[\s\S]*?\*\//g, ' ').replace(/(^|[^:'"`])\/\/[^\n]*/g, '$1');
}

/** What a file imports, however it is written. */
function importsOf(source: Source): string[] {
  const text = code(source);
  const forms = [
    /\b(?:import|export)\s[^'"`;]*?\bfrom\s*['"]([^'"]+)['"]/g,
    /\bimport\s*['"]([^'"]+)['"]/g,
    /\bimport\s*\(\s*['"]([^'"]+)['"]/g,
    /\brequire\s*\(\s*['"]([^'"]+)['"]/g,
    /createRequire\([^)]*\)\(['"]([^'"]+)['"]/g,
    /new URL\(\s*['"](\.[^'"]+)['"]/g,
  ];
  return forms.flatMap((form) => [...text.matchAll(form)].map((match) => match[1]));
}

/** The file an import leads to, from the root, or null for a package. */
function target(from: string, specifier: string): string | null {
  const plain = specifier.replace(/\?.*$/, '');
  if (plain.startsWith('#lib/')) return `src/lib/${plain.slice('#lib/'.length)}`;
  if (plain.startsWith('.')) return path.posix.normalize(path.posix.join(path.posix.dirname(from), plain));
  return null;
}

describe('imports', () => {
  test('every area is in the table', () => {
    const found = new Set(areas.map(({ area }) => area));
    for (const area of found) expect(Object.keys(AREAS), area).toContain(area);
    // The walk really saw the code.
    for (const area of ['colour', 'job', 'server', 'routes']) expect(found).toContain(area);
    expect(areas.flatMap(importsOf).length).toBeGreaterThan(100);
  });

  test('every file imports what its area may, and past no entry', () => {
    const wrong: string[] = [];
    for (const source of areas) {
      const rules = AREAS[source.area];
      for (const specifier of importsOf(source)) {
        if (specifier === './$types') continue;
        const file = target(source.name, specifier);
        const area = file && areaOf(file);
        if (file === null) {
          if (!rules.packages.test(specifier)) wrong.push(`${source.name} uses the package ${specifier}`);
        } else if (!area) {
          if (file !== 'src/app.css') wrong.push(`${source.name} leaves the areas for ${specifier}`);
        } else if (area !== source.area) {
          if (!rules.areas.includes(area)) wrong.push(`${source.name} may not import ${specifier}`);
          const past = PURE.includes(area) && file !== `src/lib/${area}/index.ts`;
          if (past) wrong.push(`${source.name} goes past the entry: ${specifier}`);
        }
      }
    }
    expect(wrong).toEqual([]);
  });

  test('imports of our own files carry their extension and cross areas by #lib', () => {
    for (const { name, area, text } of areas) {
      for (const specifier of importsOf({ name, area, text })) {
        const file = target(name, specifier);
        if (file === null || specifier === './$types') continue;
        expect(specifier, name).toMatch(/\.(ts|js|svelte|css|json|svg|woff2)(\?\w+)?$/);
        if (areaOf(file) !== area && areaOf(file) !== null) expect(specifier, name).toMatch(/^#lib\//);
      }
    }
  });

  test('packages the app runs with are those it declares', () => {
    const { dependencies } = JSON.parse(read('package.json')) as { dependencies: Record<string, string> };
    const used = areas.flatMap((source) =>
      importsOf(source).filter((specifier) => target(source.name, specifier) === null),
    );
    for (const specifier of used) {
      if (/^(node:|\$app\/)/.test(specifier)) continue;
      const name = specifier
        .split('/')
        .slice(0, specifier.startsWith('@') ? 2 : 1)
        .join('/');
      expect(Object.keys(dependencies)).toContain(name);
    }
    for (const version of Object.values(dependencies)) expect(version).toMatch(/^\d+\.\d+\.\d+$/);
  });
});

describe('pure areas', () => {
  const OUTSIDE: [RegExp, string][] = [
    [/\bMath\.random\b/, 'chance'],
    [/\bDate\.now\b|\bnew Date\s*\(\s*\)|\bperformance\.now\b/, 'the clock'],
    [/\bset(?:Timeout|Interval|Immediate)\b|\brequestAnimationFrame\b/, 'a timer'],
    [/\b(?:globalThis|window|navigator|localStorage|sessionStorage)\s*[.[]/, 'the browser'],
    [/\bdocument\.(?:body|head|createElement|querySelector|getElementById|addEventListener)\b/, 'the page'],
    [/\bprocess\.(?:env|argv|cwd|hrtime|stdout|memoryUsage)\b|\bBuffer\./, 'Node'],
    [/\bfetch\s*\(/, 'the network'],
    [/\bcrypto\.(?:getRandomValues|randomUUID|subtle)\b/, 'chance'],
    [/\$(?:state|derived|effect|props)\b/, 'Svelte'],
    [/\bconsole\./, 'the console'],
  ];

  test('they touch nothing outside', () => {
    const wrong = areas
      .filter(({ area }) => PURE.includes(area))
      .flatMap((source) => {
        const text = code(source);
        return OUTSIDE.filter(([form]) => form.test(text)).map(([, what]) => `${source.name}: ${what}`);
      });
    expect(wrong).toEqual([]);
  });

  test('each has one entry that opens with its duty', () => {
    for (const area of PURE) {
      expect(read(`src/lib/${area}/index.ts`), area).toMatch(/^\/\*\*\n(?: \*[^\n]*\n){4,} \*\//);
    }
  });
});

describe('names and sizes', () => {
  test('no file is longer than a file should be', () => {
    const sizes = ours.map(({ name, text }) => ({ name, lines: text.split('\n').length - 1 }));
    expect(sizes.filter(({ lines }) => lines > MOST_LINES)).toEqual([]);
  });

  test('files are called after a thing: kebab-case, components in PascalCase', () => {
    const vague = /^(?:utils?|helpers?|common|types|manager|service|misc)\./;
    for (const { name } of ours.filter(({ area }) => area !== 'routes')) {
      const base = path.posix.basename(name);
      expect(base, name).not.toMatch(vague);
      expect(base, name).toMatch(
        /\.svelte$/.test(base)
          ? /^[A-Z][A-Za-z]+\.svelte$/
          : /^[a-z0-9-]+(\.(?:svelte|worker|server|d))?\.(?:ts|js)$/,
      );
    }
  });

  test('re-export files are the entries of the pure areas alone', () => {
    for (const { name, area, text } of areas) {
      const reexports = /^export (?:\*|(?:type )?\{[^}]*\}) from/m.test(text);
      if (reexports) expect(PURE.includes(area) && name === `src/lib/${area}/index.ts`, name).toBe(true);
    }
  });
});

describe('spelling', () => {
  // Words of the platform, element names of CxF (ISO 17972), and what cited works call themselves.
  const FOREIGN =
    /^(?:Color|Color(?:Specification|Values|CIELab|CIELCh|SRGB)|colorSpace|colorSpaceConversion|backgroundColor|fillColor|strokeColor|[Cc]olorimetr(?:y|ic))$/;
  const TITLE = /Source: [^\n]*/g;
  const strings =
    /'(?:[^'\\\n]|\\.)*'|"(?:[^"\\\n]|\\.)*"|`(?:[^`\\]|\\.)*`|\/(?![/*\s])(?:[^/\\\n[]|\\.|\[(?:[^\]\\\n]|\\.)*\])+\/[dgimsuvy]*/g;

  test('we say colour and grey', () => {
    const wrong = ours.flatMap((source) => {
      const text = source.name.endsWith('.svelte') ? code(source) : source.text;
      const quoted = /'[^'\n]*'|`[^`\n]*`|\bcolor(?=\()/g;
      const remarks = text.match(/\/\*[\s\S]*?\*\/|(?:^|\s)\/\/[^\n]*/g) ?? [];
      const identifiers = code(source).replace(strings, '');
      const said = `${remarks.join('\n').replace(quoted, '')}\n${identifiers}`;
      const words = said.replace(TITLE, '').match(/\b\w*(?:color|gray)\w*\b/gi) ?? [];
      return words.filter((word) => !FOREIGN.test(word)).map((word) => `${source.name}: ${word}`);
    });
    expect(wrong).toEqual([]);
  });
});

describe('what is committed', () => {
  const texts = [
    ...filesUnder('src'),
    ...filesUnder('test'),
    ...fs.readdirSync(ROOT).filter((name) => fs.statSync(path.join(ROOT, name)).isFile()),
  ].filter((name) => /\.(?:ts|js|svelte|css|html|md|json|csv|py|svg|txt)$|^\.npmrc$/.test(name));

  test('no path of somebody’s machine and no registry host', () => {
    expect(texts).toContain('package-lock.json');
    const machine = new RegExp(
      `(?:^|[\\s'"\`(=:])/(?:${['work', 'root', 'farm', 'home', 'Users'].join('|')})/`,
      'm',
    );
    const registry = /https?:\/\/[^\s'"]*(?:registry|npmjs|artifact|pypi|mirror)[^\s'"]*/i;
    for (const name of texts) {
      const text = read(name);
      expect(machine.exec(text)?.[0], name).toBeUndefined();
      expect(registry.exec(text)?.[0], name).toBeUndefined();
    }
  });

  test('the lock file names no host at all', () => {
    const { packages } = JSON.parse(read('package-lock.json')) as {
      packages: Record<string, { resolved?: string }>;
    };
    for (const [name, { resolved }] of Object.entries(packages)) expect(resolved, name).toBeUndefined();
    expect(read('.npmrc')).toContain('omit-lockfile-registry-resolved=true');
  });

  test('every picture of the tests has its source beside it', () => {
    const said = read('test/fixtures/photos/SOURCES.md');
    for (const name of fs.readdirSync(path.join(ROOT, 'test/fixtures/photos'))) {
      if (name === 'SOURCES.md') continue;
      const listed =
        said.includes(name) ||
        (/^turned-\d\.jpg$/.test(name) && said.includes('turned-1.jpg to turned-8.jpg'));
      expect(listed, name).toBe(true);
      expect(fs.statSync(path.join(ROOT, 'test/fixtures/photos', name)).size, name).toBeLessThan(60_000);
    }
  });
});
