// SPDX-License-Identifier: Apache-2.0
// The real program serving a real job to a real browser, in a folder that goes away afterwards.
import { spawn, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { delimiter, join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

export const root = resolve(fileURLToPath(import.meta.url), '../../..');
export const program = process.env.GUIDEPIN_PROGRAM;
if (!program || !existsSync(program)) throw new Error('GUIDEPIN_PROGRAM names the program under test: set it');

const started = [];

/** A folder of this test alone, with a home of its own so that no key of the person who runs it is used. */
export function workplace() {
  const folder = mkdtempSync(join(tmpdir(), 'guidepin-web-'));
  mkdirSync(join(folder, 'home'));
  started.push(() => rmSync(folder, { recursive: true, force: true }));
  return folder;
}

export function environment(folder) {
  return { ...process.env, HOME: join(folder, 'home'), XDG_DATA_HOME: join(folder, 'home'), TZ: 'UTC', LC_ALL: 'C.UTF-8', GUIDEPIN_OPERATOR: 'Test Person' };
}

/** Runs a command of the program; its exit code has to be one of `allowed`. */
export function run(folder, words, allowed = [0]) {
  const done = spawnSync(program, words, { cwd: folder, env: environment(folder), encoding: 'utf8' });
  if (!allowed.includes(done.status)) throw new Error(`guidepin ${words.join(' ')}: exit code ${done.status}\n${done.stdout}${done.stderr}`);
  return done.stdout;
}

/** The demo's site as certified once for all tests (CMake's fixture web_demo), copied into `folder`. */
export function demo_job(folder) {
  const made = process.env.GUIDEPIN_DEMO;
  if (!made || !existsSync(join(made, 'demo.guidepin'))) throw new Error('GUIDEPIN_DEMO names a folder that demo/certify filled: set it');
  for (const ending of ['', '-wal', '-shm']) {
    if (existsSync(join(made, `demo.guidepin${ending}`))) cpSync(join(made, `demo.guidepin${ending}`), join(folder, `demo.guidepin${ending}`));
  }
  cpSync(join(made, 'keys'), join(folder, 'home'), { recursive: true });
  cpSync(join(made, 'package'), join(folder, 'demo.guidepin-package'), { recursive: true });
  return 'demo.guidepin';
}

/** `guidepin serve`, until stop(): that ends it as Ctrl-C does, and it must end well. `under`: a program that runs it. */
export async function serve(folder, job, words = [], under = []) {
  // It ends by itself should the test be stopped from outside; `under` may put a process between, so signals go to the group.
  const [first, ...rest] = [...under, program, 'serve', job, ...(words.includes('--port') ? [] : ['--port', '0']), '--for', '290', ...words];
  const child = spawn(first, rest, { cwd: folder, env: environment(folder), detached: true });
  const signal = (name) => { try { process.kill(-child.pid, name); } catch { /* has ended */ } };
  let said = '';
  let complaint = '';
  child.stderr.on('data', (bytes) => { complaint += bytes; });
  const ended = new Promise((done) => { child.on('exit', (code) => done(code)); });
  const printed = await new Promise((found, failed) => {
    child.stdout.on('data', (bytes) => {
      said += bytes;
      const at = said.match(/ at (https?:\/\/\S+\?key=\S+)/);
      if (at && said.includes('to stop it.')) found(at[1]);
    });
    ended.then((code) => failed(new Error(`serve ended with ${code}: ${said}${complaint}`)));
  });
  const server = {
    address: `${new URL(printed).origin}/`,
    printed,
    /** The file that holds the one-time address. */
    address_file: said.match(/ in (\S.*\.address), which/)[1],
    entering: { last: Promise.resolve() },
    said: () => said,
    complaint: () => complaint,
    child,
    async stop() {
      signal('SIGINT');
      const late = setTimeout(() => signal('SIGKILL'), 30000);
      const code = await ended;
      clearTimeout(late);
      if (code !== 0) throw new Error(`serve ended with exit code ${code}: ${complaint}`);
    },
  };
  started.push(() => { if (child.exitCode === null) signal('SIGKILL'); });
  return server;
}

const engines = new Map();
/** One browser for a test file, and one more for each way it has to be started with. */
export async function browser(more = []) {
  const way = more.join(' ');
  if (!engines.has(way)) {
    const found = (process.env.PATH || '').split(delimiter).flatMap((place) => ['chromium', 'chromium-browser', 'google-chrome'].map((name) => join(place, name)))
      .find((path) => existsSync(path));
    if (!found) throw new Error('No Chromium on the PATH: tools/install check installs it');
    engines.set(way, await chromium.launch({ executablePath: found, args: ['--no-sandbox', '--disable-dev-shm-usage', ...more] }));
  }
  return engines.get(way);
}

export const sizes = {
  phone: { viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true },
  desktop: { viewport: { width: 1440, height: 900 } },
};

/** Begins the session of the serving machine in this context, by the one-time address; one after the other, for each address holds once. */
export async function enter(context, server) {
  const turn = server.entering.last.then(async () => {
    const answer = await context.request.get(readFileSync(server.address_file, 'utf8').trim(), { maxRedirects: 0 });
    if (answer.status() !== 303 || new URL(answer.headers().location, server.address).pathname !== '/') throw new Error(`the one-time address led to ${answer.headers().location} (${answer.status()})`);
  });
  server.entering.last = turn.catch(() => {});
  await turn;
}

/** A device: a browser context whose complaints are gathered in `faults`; it sits at the serving machine unless it is a `stranger`; `started_with` are words of the browser's command line. */
export async function device(server, size = 'desktop', { stranger = false, ...more } = {}, started_with = []) {
  const context = await (await browser(started_with)).newContext({ ...sizes[size], ignoreHTTPSErrors: true, baseURL: server.address, ...more });
  context.faults = [];
  const home = new URL(server.address);
  context.on('request', (request) => {
    const to = new URL(request.url());
    // The browser's own viewer of PDFs is a part of the browser.
    if (!['data:', 'blob:', 'chrome:', 'chrome-extension:'].includes(to.protocol) && to.host !== home.host) context.faults.push(`asked outside: ${request.url()}`);
  });
  context.on('console', (message) => {
    // A refresh that is under way when the page is left is given up; what goes wrong otherwise has names of its own (htmx:responseError, sendError …).
    if (/^htmx:(sendAbort|afterRequest),/.test(message.text())) return;
    if (message.type() === 'error' || message.type() === 'warning') context.faults.push(`console: ${message.text()} (${message.location().url})`);
  });
  context.on('weberror', (error) => context.faults.push(`script: ${error.error().message}`));
  if (!stranger) await enter(context, server);
  return context;
}

/** Ends what is still running; for `after(...)`. */
export async function clean_up() {
  for (const engine of engines.values()) await engine.close();
  engines.clear();
  for (const end of started.splice(0).reverse()) end();
}

/** Until `question()` answers with something true, or an error that says what was waited for. */
export async function until(what, question, milliseconds = 10000) {
  const late = Date.now() + milliseconds;
  for (;;) {
    const answer = await question();
    if (answer) return answer;
    if (Date.now() > late) throw new Error(`Waited ${milliseconds} ms in vain: ${what}`);
    await new Promise((next) => setTimeout(next, 25));
  }
}
