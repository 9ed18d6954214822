// SPDX-License-Identifier: Apache-2.0
// bench/load.mjs PROGRAM [--links 20000] [--clients 200] [--seconds 60] [--notes 2] [--job FILE] [--no-attacks]
// How the workbench's server does under many and under strangers: who was answered, how long it took, what memory it took.
// Clients ask one request after the other without a pause, each with a session of its own, from a mix of Today, Links, One link and
// Site map; --notes in a hundred requests add a note. The load comes from this machine, so its work is part of every time.
// --job serves a copy of a job that is there; otherwise a site of so many links is simulated. Ends with 1 when a request was
// neither answered nor refused, or a stranger got more than 32 MB.
import { spawn, spawnSync } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { Agent, request } from 'node:http';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';

const [named, ...words] = process.argv.slice(2);
if (!named || !existsSync(named)) {
  console.error('usage: bench/load.mjs PROGRAM [--links N] [--clients N] [--seconds N] [--notes PERCENT] [--job FILE] [--no-attacks]');
  process.exit(2);
}
const program = resolve(named);
const option = (name, otherwise) => (words.includes(name) ? words[words.indexOf(name) + 1] : otherwise);
const links = option('--links', '20000');
const clients = Number(option('--clients', 200));
const seconds = Number(option('--seconds', 60));
const notes = Number(option('--notes', 2)) / 100;
const given = option('--job', '');
const patience = 60_000;

const folder = mkdtempSync(join(tmpdir(), 'guidepin-load-'));
process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
mkdirSync(join(folder, 'home'));
const settings = { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 28, env: { ...process.env, HOME: join(folder, 'home'), XDG_DATA_HOME: join(folder, 'home'), GUIDEPIN_OPERATOR: 'Bench' } };
function run(command) {
  const done = spawnSync(program, command, settings);
  if (done.status > 1) throw new Error(`${command.join(' ')}: exit code ${done.status}\n${done.stderr}`);
  return done.stdout;
}
if (given) {
  for (const ending of ['', '-wal', '-shm']) if (existsSync(given + ending)) cpSync(given + ending, join(folder, `site.guidepin${ending}`));
  const keys = join(dirname(given), 'guidepin');
  if (existsSync(keys)) cpSync(keys, join(folder, 'home', 'guidepin'), { recursive: true });
} else {
  for (const line of run(['simulate', '--links', links, '--seed', '20', '--faults', 'all', '--out', 'site']).split('\n').filter((one) => one.startsWith('  guidepin '))) run(line.trim().split(' ').slice(1));
}
const child = spawn(program, ['serve', 'site.guidepin', '--port', '0'], settings);
child.stderr.pipe(process.stderr);
process.on('exit', () => child.kill('SIGKILL'));
const [address, address_file] = await new Promise((found) => {
  let text = '';
  child.stdout.on('data', (bytes) => {
    text += bytes;
    const at = text.match(/ at (http:\S+\?key=\S+)\n.* in (\S.*\.address), which/);
    if (at) found([new URL(at[1]), at[2]]);
  });
});
const memory = (what) => Number(readFileSync(`/proc/${child.pid}/status`, 'utf8').match(new RegExp(`${what}:\\s+(\\d+)`))[1]) / 1000;

/** One request; its status, or what went wrong. */
function ask(agent, path, headers = {}, body = null) {
  return new Promise((done) => {
    const from = performance.now();
    let ended = false;
    const end = (status, answer = {}, bytes = null) => {
      if (ended) return;
      ended = true;
      done({ status, ms: performance.now() - from, cookie: (answer['set-cookie'] ?? [''])[0].split(';')[0], bytes });
    };
    const asked = request({ host: address.hostname, port: address.port, path, agent, method: body === null ? 'GET' : 'POST', headers: { 'Accept-Encoding': 'gzip', ...headers, ...(body === null ? {} : { 'Content-Type': 'application/x-www-form-urlencoded', 'Content-Length': body.length }) } }, (answer) => {
      const parts = [];
      answer.on('data', (part) => { parts.push(part); });
      answer.on('end', () => end(answer.statusCode, answer.headers, Buffer.concat(parts)));
      answer.on('error', (error) => end(error.code));
    });
    asked.on('error', (error) => end(error.code ?? error.message));
    asked.setTimeout(patience, () => { end('no answer'); asked.destroy(); });
    asked.end(body);
  });
}

/** Begins a session by the one-time address; one after the other, for each address holds once. */
let entering = Promise.resolve();
function enter(agent) {
  entering = entering.then(() => {
    const next = new URL(readFileSync(address_file, 'utf8').trim());
    return ask(agent, next.pathname + next.search);
  });
  return entering;
}

const once = new Agent({ keepAlive: false });
const ids = [];
{
  const first = await enter(once);
  for (let from = 0; from < 400; from += 40) {
    const page = await ask(once, `/links?from=${from * 20}`, { Cookie: first.cookie, 'Accept-Encoding': '' });
    for (const [, id] of page.bytes.toString().matchAll(/href="\/link\?id=([^&"]+)/g)) ids.push(id);
  }
}
const any = (list) => list[Math.floor(Math.random() * list.length)];
const pages = ['/', '/', '/links', '/links', () => `/link?id=${any(ids)}`, () => `/link?id=${any(ids)}`, '/site-map'];

let bad = 0;
console.log(`${ids.length} links are asked for; ${clients} clients, ${seconds} s, ${notes * 100} % notes`);
console.log(`${'load'.padEnd(34)}${'requests'.padStart(9)}${'answered'.padStart(9)}${'refused'.padStart(8)}${'lost'.padStart(6)}${'per s'.padStart(7)}${'p50 s'.padStart(7)}${'p95 s'.padStart(7)}${'p99 s'.padStart(7)}${'max s'.padStart(7)}${'RSS MB'.padStart(13)}`);
function row(name, answers, span, before) {
  const good = answers.filter((one) => one.status === 200 || one.status === 303);
  const refused = answers.filter((one) => one.status === 503).length;
  const lost = answers.length - good.length - refused;
  bad += lost;
  const times = good.map((one) => one.ms).sort((a, b) => a - b);
  const at = (share) => ((times[Math.min(times.length - 1, Math.floor(times.length * share))] ?? 0) / 1000).toFixed(2).padStart(7);
  console.log(`${name.padEnd(34)}${String(answers.length).padStart(9)}${String(good.length).padStart(9)}${String(refused).padStart(8)}${String(lost).padStart(6)}${(answers.length / span).toFixed(0).padStart(7)}${at(0.5)}${at(0.95)}${at(0.99)}${at(1)}${`${before.toFixed(0)} → ${memory('VmRSS').toFixed(0)}`.padStart(13)}`);
  const other = answers.filter((one) => ![200, 303, 503].includes(one.status)).map((one) => one.status);
  if (other.length) console.log(`  lost: ${[...new Set(other)].map((status) => `${other.filter((one) => one === status).length} × ${status}`).join(', ')}`);
}

async function many(name, keep_alive, span) {
  const crowd = [];
  for (let i = 0; i < clients; ++i) {
    const agent = new Agent({ keepAlive: keep_alive, maxSockets: 1 });
    const { cookie } = await enter(agent);
    crowd.push({ agent, headers: { Cookie: cookie }, token: (await ask(agent, '/token', { Cookie: cookie })).bytes.toString().trim() });
  }
  const before = memory('VmRSS');
  const answers = [];
  const end = Date.now() + span * 1000;
  await Promise.all(crowd.map(async ({ agent, headers, token }) => {
    while (Date.now() < end) {
      const page = any(pages);
      const path = typeof page === 'string' ? page : page();
      const answer = Math.random() < notes ? await ask(agent, '/link/note', headers, new URLSearchParams({ token, id: any(ids), key: Math.random().toString(16).slice(2).padEnd(8, '0'), text: 'seen under load' }).toString()) : await ask(agent, path, headers);
      answer.bytes = null;
      answers.push(answer);
    }
    agent.destroy();
  }));
  row(name, answers, span, before);
}

await many(`${clients} clients, keep-alive`, true, seconds);
await many(`${clients} clients, each time a new connection`, false, Math.ceil(seconds / 2));
{
  const before = memory('VmRSS');
  const { cookie } = await enter(once);
  const wide = new Agent({ keepAlive: false, maxSockets: 2000 });
  const from = Date.now();
  const answers = await Promise.all(Array.from({ length: 1000 }, () => { const page = any(pages); return ask(wide, typeof page === 'string' ? page : page(), { Cookie: cookie }); }));
  row('1,000 requests at once', answers, (Date.now() - from) / 1000, before);
}

/** Writes `bytes` until `most` are out or the other side has enough; what it answered. */
function attack(head, bytes = null, most = 0) {
  return new Promise((done) => {
    const socket = connect({ host: address.hostname, port: Number(address.port) });
    let text = '';
    let sent = 0;
    const late = setTimeout(() => socket.destroy(), 20_000);
    socket.on('error', () => {});
    socket.on('data', (part) => { text += part.toString('latin1'); });
    socket.on('end', () => socket.destroy());
    socket.on('close', () => { clearTimeout(late); done({ status: text.slice(9, 12) || 'closed', sent }); });
    const next = () => {
      while (!socket.destroyed && sent < most) {
        sent += bytes.length;
        if (!socket.write(bytes)) { socket.once('drain', next); return; }
      }
    };
    socket.write(head);
    if (bytes) next();
  });
}
if (!words.includes('--no-attacks')) {
  // The findings are worked out once it is quiet: that takes memory of its own, which is no stranger's.
  await new Promise((next) => setTimeout(next, 15_000));
  const post = `POST /pair HTTP/1.1\r\nHost: ${address.host}\r\n`;
  const piece = Buffer.alloc(1 << 20, 'a');
  console.log(`\n${'a stranger sends'.padEnd(34)}${'answer'.padStart(9)}${'sent MB'.padStart(9)}${'s'.padStart(7)}${'RSS before, peak MB'.padStart(22)}`);
  for (const [name, times, head, bytes, most] of [
    ['a bomb (gzip, 1.5 MB)', 1, `${post}Content-Encoding: gzip\r\nContent-Length: 1492000\r\n\r\n`, piece, 1492000],
    ['600 MB in pieces', 1, `${post}Transfer-Encoding: chunked\r\n\r\n`, Buffer.concat([Buffer.from('100000\r\n'), piece, Buffer.from('\r\n')]), 600e6],
    ['600 MB without a length', 1, `${post}\r\n`, piece, 600e6],
    ['500 MB, as stated', 1, `${post}Content-Length: 500000000\r\n\r\n`, piece, 500e6],
    ['16 MB, 100 times at once', 100, `${post}Content-Length: 16000000\r\n\r\n`, piece, 16e6],
    ['a header of 200 MB', 1, `${post}X-A: `, piece, 200e6],
    ['a request line of 200 MB', 1, 'GET /', piece, 200e6],
    ['300,000 headers', 1, post, Buffer.from('X-A: a\r\n'.repeat(1000)), 300000 * 8],
    ['half a head, 300 times', 300, `${post}X-A: ${'a'.repeat(15000)}`, null, 0],
    ['nothing, 300 times', 300, '', null, 0],
  ]) {
    const before = memory('VmRSS');
    const from = Date.now();
    let most_used = before;
    const look = setInterval(() => { most_used = Math.max(most_used, memory('VmRSS')); }, 5);
    const all = await Promise.all(Array.from({ length: times }, () => attack(head, bytes, most)));
    clearInterval(look);
    most_used = Math.max(most_used, memory('VmRSS'));
    if (most_used - before > 32) ++bad;
    console.log(`${name.padEnd(34)}${all[0].status.padStart(9)}${(all.reduce((sum, one) => sum + one.sent, 0) / 1e6).toFixed(1).padStart(9)}${((Date.now() - from) / 1000).toFixed(1).padStart(7)}${`${before.toFixed(0)} → ${most_used.toFixed(0)}`.padStart(22)}`);
  }
}
const begun = Date.now();
child.kill('SIGINT');
await new Promise((done) => child.on('exit', done));
console.log(`\nended ${((Date.now() - begun) / 1000).toFixed(1)} s after Ctrl-C; most memory at any time is above`);
process.exitCode = bad ? 1 : 0;
