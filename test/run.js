/**
 * `npm test`: everything there is to check, from a fresh clone, on any Node from 20 on with nothing installed. Installs what
 * is missing, finds or fetches a browser, then runs formatting, types, unit and server tests, one round of each bench and
 * the journeys in the browser. The last line is `N passed, N failed` over all of them.
 *
 * `npm test -- unit journeys` runs only the named suites: format, types, unit, benches, journeys.
 */
import { spawn } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { ROOT, buildIfStale, chooseNode, installMissing, nodeFlags } from '../src/start.js';
import { browserForTests } from './browser.js';

/** @typedef {{passed: number, failed: number}} Count */

installMissing();
const node = chooseNode();
const scratch = fs.mkdtempSync(path.join(os.tmpdir(), 'brushout-test-'));
const wanted = process.argv.slice(2);
/** @type {NodeJS.ProcessEnv} */
const env = {
  ...process.env,
  // What the tests start finds the same Node by name.
  PATH: [path.dirname(node), path.join(ROOT, 'node_modules/.bin'), process.env.PATH].join(path.delimiter),
  BRUSHOUT_DATA: path.join(scratch, 'data'),
  CI: process.env.CI ?? '1',
};

/**
 * Runs a tool of node_modules and gives its exit code.
 * @param {string} script @param {string[]} args @param {NodeJS.ProcessEnv} [more]
 * @returns {Promise<number>}
 */
function run(script, args, more = {}) {
  const child = spawn(node, [path.join(ROOT, 'node_modules', script), ...args], {
    cwd: ROOT,
    env: { ...env, ...more },
    stdio: 'inherit',
  });
  return new Promise((resolve) => {
    child.on('error', () => resolve(1));
    child.on('close', (code) => resolve(code ?? 1));
  });
}

/** One check that either holds or does not. @param {number} code @returns {Count} */
const single = (code) => (code === 0 ? { passed: 1, failed: 0 } : { passed: 0, failed: 1 });

/** @param {string} file @returns {any} */
function readReport(file) {
  try {
    return JSON.parse(fs.readFileSync(file, 'utf8'));
  } catch {
    return null;
  }
}

/** @param {string} config @param {NodeJS.ProcessEnv} [more] @returns {Promise<Count>} */
async function vitest(config, more) {
  const file = path.join(scratch, `${path.basename(config)}.json`);
  const args = [
    'run',
    '--config',
    config,
    '--reporter=default',
    '--reporter=json',
    `--outputFile.json=${file}`,
  ];
  const code = await run('vitest/vitest.mjs', args, more);
  const report = readReport(file);
  if (!report || report.numTotalTests === 0) return { passed: 0, failed: 1 };
  const { numPassedTests: passed, numFailedTests: failed } = report;
  // A file that could not be loaded, or an error outside any test, fails without a failed test to its name.
  return { passed, failed: code !== 0 && failed === 0 ? 1 : failed };
}

/** @returns {Promise<Count>} */
async function journeys() {
  const browser = browserForTests(node, ROOT);
  console.log(`Browser: ${browser.words}`);
  const studio = await startStudio();
  const file = path.join(scratch, 'journeys.json');
  const code = await run('@playwright/test/cli.js', ['test', '--config', 'test/playwright.config.ts'], {
    BRUSHOUT_URL: studio.url,
    PLAYWRIGHT_JSON_OUTPUT_NAME: file,
    ...(browser.path && { CHROMIUM_PATH: browser.path }),
  });
  await studio.stop();
  const report = readReport(file);
  if (!report || report.stats.expected + report.stats.unexpected + report.stats.flaky === 0)
    return { passed: 0, failed: 1 };
  const { expected, unexpected, flaky } = report.stats;
  const failed = unexpected + flaky;
  return { passed: expected, failed: code !== 0 && failed === 0 ? 1 : failed };
}

/** Starts the built studio on a free port with an empty data folder. */
async function startStudio() {
  const child = spawn(node, [...nodeFlags(node), path.join(ROOT, 'src/start.js')], {
    cwd: ROOT,
    env: { ...env, PORT: '0', HOST: '', BRUSHOUT_DATA: path.join(scratch, 'journeys') },
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const closed = new Promise((resolve) => child.on('close', resolve));
  const url = await new Promise((resolve) => {
    let text = '';
    child.stdout.on('data', (chunk) => {
      text += chunk;
      const match = /ready: (\S+)/.exec(text);
      if (match) resolve(match[1]);
    });
    child.on('close', () => resolve(''));
  });
  const stop = async () => {
    child.kill('SIGTERM');
    await closed;
  };
  return { url: /** @type {string} */ (url), stop };
}

/** @type {[string, string, () => Promise<Count>][]} */
const suites = [
  [
    'format',
    'Formatting',
    async () => single(await run('prettier/bin/prettier.cjs', ['--check', '--log-level=warn', '.'])),
  ],
  [
    'types',
    'Types',
    async () => {
      const synced = await run('@sveltejs/kit/svelte-kit.js', ['sync']);
      const args = ['--tsconfig', './tsconfig.json', '--fail-on-warnings', '--output', 'human'];
      return single(synced || (await run('svelte-check/bin/svelte-check', args)));
    },
  ],
  ['unit', 'Unit and server tests', () => vitest('test/vitest.config.ts')],
  ['benches', 'Benches, once each', () => vitest('test/vitest.bench.config.ts', { BENCH_SMOKE: '1' })],
  ['journeys', 'Journeys in the browser', journeys],
];

let passed = 0;
let failed = 0;
const summary = [];
const started = Date.now();
const chosen = suites.filter(([key]) => wanted.length === 0 || wanted.includes(key));
if (chosen.some(([key]) => key === 'unit' || key === 'journeys')) buildIfStale(node);
for (const [, name, suite] of chosen) {
  const from = Date.now();
  console.log(`\n── ${name}`);
  const count = await suite().catch((error) => {
    console.error(error);
    return { passed: 0, failed: 1 };
  });
  passed += count.passed;
  failed += count.failed;
  summary.push(
    `${name}: ${count.passed} passed, ${count.failed} failed, ${((Date.now() - from) / 1000).toFixed(1)} s`,
  );
}
fs.rmSync(scratch, { recursive: true, force: true });

console.log(`\n${summary.join('\n')}\nTogether ${((Date.now() - started) / 1000).toFixed(1)} s`);
if (chosen.length === 0) failed += 1;
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed === 0 && passed > 0 ? 0 : 1);
