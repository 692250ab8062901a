import { readFileSync } from 'node:fs';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseSwatchList } from '#lib/finish/index.ts';
import { readCsv } from '#lib/finish/csv.ts';

const fixture = (name: string) =>
  readFileSync(new URL(`../fixtures/finish/${name}`, import.meta.url), 'utf8');
const quoted = (cell: string) => (/[",;\t\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell);

describe('delimited text', () => {
  const cells = fc.array(
    fc.array(fc.stringMatching(/^[a-z0-9 ,;."\n]{1,8}$/), { minLength: 3, maxLength: 3 }),
    {
      minLength: 2,
      maxLength: 6,
    },
  );

  test('comes back as it was written, whatever the delimiter and the line ends', () => {
    fc.assert(
      fc.property(
        cells,
        fc.constantFrom(',', ';', '\t'),
        fc.constantFrom('\n', '\r\n', '\r'),
        fc.boolean(),
        (rows, delimiter, end, mark) => {
          // A plain header row makes the delimiter plain, as in every real list.
          const table = [
            ['maker', 'name', 'hex'],
            ...rows.filter((row) => row.some((cell) => cell.trim() !== '')),
          ];
          const text = `sep=${delimiter}${end}${table.map((row) => row.map(quoted).join(delimiter)).join(end)}${end}`;
          const read = readCsv(mark ? `\ufeff${text}` : text);
          expect(read.problems).toEqual([]);
          expect(read.records.map((record) => record.cells)).toEqual(table);
        },
      ),
    );
  });

  test('finds the delimiter by itself, even among decimal commas', () => {
    expect(readCsv('L;a;b\n62,5;-9,1;11,0\n').delimiter).toBe(';');
    expect(readCsv('name,hex\nReed,#8f9a86\n').delimiter).toBe(',');
    expect(readCsv('name\thex\nReed, pale\t#8f9a86\n').delimiter).toBe('\t');
  });

  test('counts lines across quoted line breaks and blank lines', () => {
    const { records } = readCsv('a,b\r\n"x\r\ny",1\r\n\r\nz,2\r\n');
    expect(records).toEqual([
      { line: 1, cells: ['a', 'b'] },
      { line: 2, cells: ['x\r\ny', '1'] },
      { line: 5, cells: ['z', '2'] },
    ]);
  });

  test('reports a broken quote by its line and reads on', () => {
    const { records, problems } = readCsv('a,b\n"x,1\ny,2\n"z"w,3\nv,4\n');
    expect(records.map(({ line }) => line)).toEqual([1, 3, 5]);
    // The first mark is closed by the one before z, and text follows it; then z"w.
    expect(problems.map(({ line }) => line)).toEqual([2, 4]);
  });
});

describe('a list with semicolons and decimal commas', () => {
  const { swatches, problems, columns } = parseSwatchList(fixture('paints-semicolon.csv'));

  test('gives makers, codes, names, colours, prices and lead times', () => {
    expect(swatches[0]).toMatchObject({
      line: 2,
      maker: 'Kiln & Quay',
      code: 'K-12',
      name: 'Reed bed',
      sheen: 'matt',
      kind: 'paint',
      price: { amount: 48.5, currency: 'EUR', unit: 'l' },
      leadTimeDays: 7,
      publishedLrv: 31,
      lab: { L: 62.4, a: -8.9, b: 11.2 },
      source: 'published',
    });
    expect(swatches[1]).toMatchObject({
      name: 'Wet "slate"',
      sheen: 'eggshell',
      price: { amount: 1048.5 },
      leadTimeDays: 14,
    });
  });

  test('reports wrong rows by line with the reason and keeps the rest', () => {
    expect(swatches.map(({ line }) => line)).toEqual([2, 3, 4]);
    expect(problems.filter(({ kept }) => !kept)).toEqual([
      { line: 5, reason: 'No colour in this row.', kept: false },
      { line: 6, reason: 'L* 162: L* lies between 0 and 100.', kept: false },
    ]);
  });

  test('points out an LRV that contradicts the colour and keeps both', () => {
    const chalk = swatches[2];
    expect(chalk.publishedLrv).toBe(60);
    expect(chalk.lab.L).toBe(91.5);
    expect(chalk.notes[1]).toMatch(
      /^The published LRV of 60 and the colour \(LRV 80\) contradict each other/,
    );
    expect(problems).toContainEqual({
      line: 4,
      reason: `${chalk.notes[1]} Both are kept.`,
      kept: true,
      whole: true,
    });
  });

  test('says which columns were recognised', () => {
    expect(columns.filter(({ meaning }) => meaning === null).map(({ header }) => header)).toEqual([
      'Marke',
      'Farbname',
    ]);
    expect(columns.find(({ header }) => header === 'a*')!.meaning).toBe('a');
  });
});

describe('a list with commas, a byte order mark and quotes', () => {
  const { swatches, problems } = parseSwatchList(fixture('paints-comma.csv'));

  test('takes thousands, units, ranges of days and RGB columns', () => {
    expect(swatches[0]).toMatchObject({
      code: 'A1',
      name: 'Sage',
      sheen: 'satin',
      price: { amount: 1250, currency: 'GBP', unit: 'm²' },
      leadTimeDays: 7,
    });
    expect(swatches[1]).toMatchObject({
      name: 'Clay, fired',
      sheen: 'gloss',
      price: null,
      leadTimeDays: null,
    });
    expect(swatches[1].notes[0]).toMatch(/^RGB 176 120 96/);
    expect(swatches[2].name).toBe('Two\r\nlines');
    expect(swatches[3].name).toBe('Last');
  });

  test('keeps a swatch without the part that is wrong, and says which', () => {
    expect(problems).toContainEqual({
      line: 3,
      reason: 'Price “abc” could not be read; left out.',
      kept: true,
    });
    expect(problems).toContainEqual({
      line: 3,
      reason: 'Lead time “soon” could not be read; left out.',
      kept: true,
    });
    expect(problems).toContainEqual({
      line: 7,
      reason: 'A quotation mark is opened and never closed.',
      kept: false,
    });
  });
});

describe('headers', () => {
  const first = (text: string) => parseSwatchList(text).swatches[0];

  test('may stand in any order and spelling', () => {
    expect(first('Hex Code,Product Name,Manufacturer,Item No.\n8f9a86,Reed,Kiln,7\n')).toMatchObject({
      name: 'Reed',
      maker: 'Kiln',
    });
    expect(first('LIGHTNESS,A,B,BRAND\n62,-9,11,Kiln\n')).toMatchObject({
      lab: { L: 62, a: -9, b: 11 },
      maker: 'Kiln',
    });
  });

  test('tell the b of RGB from the b of Lab', () => {
    const row = first('r,g,b,L,a,b\n143,154,134,62,-9,11\n');
    expect(row.lab).toEqual({ L: 62, a: -9, b: 11 });
    expect(parseSwatchList('r,g,b,L,a,b\n1,2,3,62,-9,11\n').columns.map(({ meaning }) => meaning)).toEqual([
      'R',
      'G',
      'B',
      'L',
      'a',
      'b',
    ]);
  });

  test('may say for which illuminant the Lab is', () => {
    expect(first('name,L* (D50/2),a*,b*\nReed,62,-9,11\n').notes[0]).toMatch(/converted from D50\/2°/);
  });

  test('take notations, LCh, whole-cell values and an LRV with hue', () => {
    expect(first('name,munsell\nReed,5GY 6/2\n').source).toBe('notation');
    expect(first('name,L,C,h\nReed,50,20,90\n').lab.b).toBeCloseTo(20, 9);
    expect(first('name;lab\nReed;62 -9 11\n').lab).toEqual({ L: 62, a: -9, b: 11 });
    expect(first('name,LRV,hue\nReed,45,130\n')).toMatchObject({ source: 'published LRV', publishedLrv: 45 });
    expect(first('colour,maker\n#8f9a86,Kiln\n')).toMatchObject({ name: '', maker: 'Kiln' });
  });

  test('without any colour are refused with what to do', () => {
    expect(parseSwatchList('name,price\nReed,40\n').problems[0].reason).toMatch(
      /No column with a colour was recognised/,
    );
    expect(parseSwatchList('').problems[0].reason).toMatch(/^The list is empty/);
  });
});

describe('a colour that is given but cannot be read', () => {
  const read = (text: string) => {
    const { swatches, problems } = parseSwatchList(text);
    return { lines: swatches.map(({ line }) => line), problems };
  };

  test('is never replaced by the LRV: the row is reported by its cell and left out', () => {
    const { lines, problems } = read(
      [
        'name;L;a;b;hex;LRV',
        'One;140;2;3;;30',
        'Two;50;x;3;;30',
        'Three;50;2;;;30',
        'Four;;;;#zzz;20',
        'Five;abc;2;3;;',
        'Six;;;;;30',
      ].join('\n'),
    );
    expect(lines).toEqual([7]);
    expect(problems).toEqual([
      { line: 2, reason: 'L 140: L* lies between 0 and 100.', kept: false },
      { line: 3, reason: 'a “x” is not a number.', kept: false },
      { line: 4, reason: 'b is empty: a colour needs L, a and b.', kept: false },
      {
        line: 5,
        reason:
          'hex: Understood a hex colour, but “#zzz” is not one. Use three or six digits 0-9 and a-f, such as #8f9a86.',
        kept: false,
      },
      { line: 6, reason: 'L “abc” is not a number.', kept: false },
    ]);
  });

  test('gives way to another colour of the row, and is named', () => {
    const { lines, problems } = read('L;a;b;hex;R;G;B\n62;-9;11;#12;300;0;0\n');
    expect(lines).toEqual([2]);
    expect(problems).toHaveLength(2);
    expect(problems[0]).toMatchObject({ line: 2, kept: true });
    expect(problems[0].reason).toMatch(/^hex: .* Another colour of the row was taken\.$/);
    expect(problems[1].reason).toMatch(/^R 300: RGB values are whole numbers from 0 to 255\./);
  });

  test('is told from cells that say there is nothing', () => {
    expect(read('name;L;a;b;hex;LRV\nReed;-;n/a;–;—;30\n')).toEqual({ lines: [2], problems: [] });
  });

  test('may be an LRV, and then the row has none', () => {
    expect(read('name;LRV\nReed;140\n').problems).toEqual([
      {
        line: 2,
        reason: 'No colour in this row. LRV “140” is not a number from 0 to 100.',
        kept: false,
      },
    ]);
  });

  test('leaves the hue of an LRV out alone', () => {
    const { lines, problems } = read('LRV;hue\n45;green\n45;130\n');
    expect(lines).toEqual([2, 3]);
    expect(problems).toEqual([{ line: 2, reason: 'hue “green” is not a number; left out.', kept: true }]);
  });

  test('may want its other columns', () => {
    const { swatches, notes, columns } = parseSwatchList('name;L*;a*;LRV\nReed;62;-9;30\n');
    expect(swatches[0].source).toBe('published LRV');
    expect(notes).toEqual([
      'Column “L*” was not used: a colour needs L, a and b, or L, C and h.',
      'Column “a*” was not used: a colour needs L, a and b, or L, C and h.',
    ]);
    expect(columns.map(({ meaning }) => meaning)).toEqual(['name', null, null, 'lrv']);
  });
});

describe('a column called colour', () => {
  test('is read cell by cell in any notation', () => {
    const { swatches, problems } = parseSwatchList(
      'name,colour,LRV\nA,Lab 50 2 3,18\nB,5GY 6/2,30\nC,#8f9a86,30\nD,olive,\nE,5GY 6/2x,30\nF,AB 3040,30\nG,,30\n',
    );
    expect(swatches.map(({ name, source }) => [name, source])).toEqual([
      ['A', 'published'],
      ['B', 'notation'],
      ['C', 'published'],
      ['D', 'published'],
      ['G', 'published LRV'],
    ]);
    expect(problems.map(({ line, kept }) => [line, kept])).toEqual([
      [6, false],
      [7, false],
    ]);
    expect(problems[1].reason).toMatch(/^colour: This looks like a catalogue code\./);
  });

  test('holds names where its cells are words, even if one is a CSS colour', () => {
    const { swatches, problems } = parseSwatchList('colour,LRV\nOlive,30\nWet sage,45\n');
    expect(problems).toEqual([]);
    expect(swatches.map(({ name, source }) => [name, source])).toEqual([
      ['Olive', 'published LRV'],
      ['Wet sage', 'published LRV'],
    ]);
    const family = parseSwatchList('name,colour,LRV\nReed,green,30\n').swatches[0];
    expect(family.notes[1]).toBe('“green” was taken for a word, not for a colour.');
  });

  test('is all there is, and then a word in it is a colour or a problem', () => {
    const { swatches, problems } = parseSwatchList('name,colour\nA,olive\nB,sagey\n');
    expect(swatches.map(({ name }) => name)).toEqual(['A']);
    expect(problems[0].reason).toMatch(/^colour: “sagey” is no colour that can be read/);
  });
});

test('no text makes the reader throw or give a number that is not one', () => {
  const piece = fc.constantFrom(
    'name',
    'hex',
    'L',
    'a',
    'b',
    'lrv',
    'price',
    'lead time',
    '#8f9a86',
    '62',
    '-9,1',
    '"',
    '""',
    ',',
    ';',
    '\t',
    '\n',
    '\r\n',
    'x',
    '1e400',
    '(EUR/l)',
    '\ufeff',
    '€',
    '%',
    '5GY 6/2',
  );
  fc.assert(
    fc.property(
      fc.oneof(
        fc.string({ maxLength: 200 }),
        fc.array(piece, { maxLength: 60 }).map((list) => list.join('')),
      ),
      (text) => {
        const { swatches, problems } = parseSwatchList(text);
        for (const { lab, covariance } of swatches) {
          expect([lab.L, lab.a, lab.b, ...covariance].every(Number.isFinite)).toBe(true);
        }
        // Every record below the header is either kept, or reported with its line.
        const { records } = readCsv(text);
        const reported = new Set(problems.filter(({ kept }) => !kept).map(({ line }) => line));
        const kept = new Set(swatches.map(({ line }) => line));
        const headless = problems.some(
          ({ reason }) => reason.startsWith('No column') || reason.startsWith('The list'),
        );
        if (!headless)
          for (const { line } of records.slice(1)) expect(kept.has(line) !== reported.has(line)).toBe(true);
      },
    ),
    { numRuns: 500 },
  );
});
