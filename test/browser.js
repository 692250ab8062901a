/**
 * The browser of the tests: the one `CHROMIUM_PATH` names, else one on this computer, else Debian's package (as root on
 * Debian), else Playwright's own download.
 */
import { spawnSync } from 'node:child_process';
import fs from 'node:fs';
import path from 'node:path';

const NAMES = ['chromium', 'chromium-browser', 'google-chrome', 'google-chrome-stable'];
const MAC = '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome';

/** @returns {string | null} path of a Chromium that is there already */
export function foundChromium() {
  if (process.env.CHROMIUM_PATH) return process.env.CHROMIUM_PATH;
  const folders = (process.env.PATH ?? '').split(path.delimiter).filter(Boolean);
  const places = folders.flatMap((folder) => NAMES.map((name) => path.join(folder, name)));
  return [...places, MAC].find((file) => fs.existsSync(file)) ?? null;
}

/**
 * Finds a browser, or fetches one.
 * @param {string} node the Node to run Playwright with
 * @param {string} root folder of the sources
 * @returns {{path: string | null, words: string}} `path` null means Playwright's own
 */
export function browserForTests(node, root) {
  const found = foundChromium();
  if (found) return { path: found, words: found };
  if (process.getuid?.() === 0 && fs.existsSync('/etc/debian_version')) {
    console.log('No Chromium here; installing the Debian package …');
    const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
    /** @param {string[]} args */
    const aptGet = (...args) => spawnSync('apt-get', args, { stdio: ['ignore', 'ignore', 'inherit'], env });
    aptGet('update', '-qq');
    aptGet('install', '-y', '-qq', '--no-install-recommends', 'chromium');
    const installed = foundChromium();
    if (installed) return { path: installed, words: `${installed} (Debian package, just installed)` };
  }
  console.log('No Chromium here; fetching the one of Playwright …');
  const cli = path.join(root, 'node_modules/playwright/cli.js');
  const { status } = spawnSync(node, [cli, 'install', 'chromium'], { stdio: 'inherit' });
  return { path: null, words: status === 0 ? "Playwright's own Chromium" : 'none: the download failed' };
}
