// SPDX-License-Identifier: Apache-2.0
// bench/web.mjs PROGRAM [LINKS [TIMES]]: how long the workbench takes over each page of a job with 20,000 measured links.
// The site is simulated by the program itself. A time is that of a whole answer over loopback, one request at a time, a
// fresh part of the job each time; the ratio is to the answer of a file of the program's own, which costs no work.
// Ends with 1 when the 95th percentile of a page is over 50 ms, or another device hears of an entry after more than a second.
import { spawn, spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { Agent, request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const limit = 50;
const [program, links = '20000', times = '100'] = process.argv.slice(2);
if (!program) {
  console.error('usage: bench/web.mjs PROGRAM [LINKS [TIMES]]');
  process.exit(2);
}
const folder = mkdtempSync(join(tmpdir(), 'guidepin-bench-'));
process.on('exit', () => rmSync(folder, { recursive: true, force: true }));
mkdirSync(join(folder, 'home'));
const settings = { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 28, env: { ...process.env, HOME: join(folder, 'home'), XDG_DATA_HOME: join(folder, 'home'), GUIDEPIN_OPERATOR: 'Bench' } };
function run(words) {
  const done = spawnSync(program, words, settings);
  if (done.status > 1) throw new Error(`${words.join(' ')}: exit code ${done.status}\n${done.stderr}`);
  return done.stdout;
}

const said = run(['simulate', '--links', links, '--seed', '20', '--faults', 'all', '--out', 'site']);
console.log(said.split('\n')[0]);
for (const line of said.split('\n').filter((one) => one.startsWith('  guidepin '))) {
  const from = Date.now();
  run(line.trim().split(' ').slice(1));
  if (Date.now() - from > 2000) console.log(`  ${line.trim().split(' ')[1]}: ${((Date.now() - from) / 1000).toFixed(1)} s`);
}
const begun = Date.now();
const child = spawn(program, ['serve', 'site.guidepin', '--port', '0'], settings);
child.stderr.pipe(process.stderr);
const address = await new Promise((found) => {
  let text = '';
  child.stdout.on('data', (bytes) => {
    text += bytes;
    const at = text.match(/ at (http:\S+\?key=\S+)/);
    if (at) found(at[1]);
  });
});
console.log(`served after ${((Date.now() - begun) / 1000).toFixed(1)} s`);

const agent = new Agent({ keepAlive: true, maxSockets: 1 });
let cookie = '';
function get(path, packed = true) {
  const to = new URL(path, address);
  return new Promise((done, failed) => {
    const from = process.hrtime.bigint();
    const asked = request(to, { agent, headers: { Cookie: cookie, ...(packed ? { 'Accept-Encoding': 'gzip' } : {}) } }, (answer) => {
      let bytes = 0;
      const parts = [];
      answer.on('data', (part) => { bytes += part.length; parts.push(part); });
      answer.on('end', () => {
        if (answer.headers['set-cookie']) cookie = answer.headers['set-cookie'][0].split(';')[0];
        done({ ms: Number(process.hrtime.bigint() - from) / 1e6, status: answer.statusCode, bytes, body: Buffer.concat(parts) });
      });
    });
    asked.on('error', failed);
    asked.end();
  });
}
await get(address); // the one-time address begins the session
await get('/');
const ids = spawnSync('cut', ['-d,', '-f1', join(folder, 'site/schedule.csv')], { encoding: 'utf8' }).stdout.trim().split('\n').slice(1);
const zones = [...new Set(spawnSync('cut', ['-d,', '-f2', join(folder, 'site/schedule.csv')], { encoding: 'utf8' }).stdout.trim().split('\n').slice(1))];
let seed = 7; // a walk that is the same each time
const any = (list) => list[(seed = (seed * 1103515245 + 12345) % 2147483648) % list.length];
const { pages } = JSON.parse((await get('/pages.json', false)).body.toString());
const asked = {
  'a file of the program': () => '/assets/any/mark.svg',
  'Links, typed part': () => `/links?find=${encodeURIComponent(any(ids).slice(0, 3 + (seed % 4)))}`,
  'Links, least margin': () => `/links?sort=margin&from=${(seed % 100) * 40}`,
  'Links, far on': () => `/links?from=${(seed % Math.floor(ids.length / 40)) * 40}`,
  'Links, failing in a zone': () => `/links?state=fail&zone=${encodeURIComponent(any(zones))}`,
  'Site map, a zone': () => `/site-map?zone=${encodeURIComponent(any(zones))}`,
};
for (const page of pages.filter((one) => one.method === 'GET' && one.access !== 'anybody' && !['/bring-in/file', '/photo', '/package', '/link', '/kit/item'].includes(one.path))) {
  asked[page.title === 'Pages' ? 'Pages (data)' : page.title] = () => page.path;
}
asked['An item of the kit'] = () => '/kit/item?id=launch-mpo-12-multimode';
asked['One link'] = () => `/link?id=${encodeURIComponent(any(ids))}`;

const rows = [];
for (const [name, path] of Object.entries(asked)) {
  const taken = [];
  let bytes = 0;
  for (let i = 0; i < Number(times) + 5; ++i) {
    const answer = await get(path());
    if (answer.status !== 200 && name !== 'a file of the program') throw new Error(`${name}: answered ${answer.status}`);
    bytes = Math.max(bytes, answer.bytes);
    if (i >= 5) taken.push(answer.ms); // the first ones warm up
  }
  taken.sort((a, b) => a - b);
  rows.push({ name, median: taken[Math.floor(taken.length / 2)], p95: taken[Math.min(taken.length - 1, Math.floor(taken.length * 0.95))], bytes });
}
const plain = rows[0].median;
console.log(`${'page'.padEnd(28)}${'median'.padStart(9)}${'95 %'.padStart(9)}${'ratio'.padStart(8)}${'kB sent'.padStart(9)}`);
let slow = 0;
for (const row of rows) {
  if (row.p95 > limit) ++slow;
  console.log(`${row.name.padEnd(28)}${row.median.toFixed(1).padStart(6)} ms${row.p95.toFixed(1).padStart(6)} ms${(row.median / plain).toFixed(0).padStart(8)}${(row.bytes / 1000).toFixed(1).padStart(9)}${row.p95 > limit ? '  over 50 ms' : ''}`);
}

// An entry on this job: until its own device knows it is kept, and until another device knows.
const listening = new Promise((ready) => {
  request(new URL('/events', address), { headers: { Cookie: cookie } }, (answer) => ready(answer)).end();
});
const stream = await listening;
let informed = () => {};
stream.on('data', (bytes) => { if (bytes.includes('event: changed')) informed(); });
const token = (await get('/token')).body.toString().trim();
const form = await (await fetch(new URL(`/link?id=${encodeURIComponent(ids[0])}`, address), { headers: { Cookie: cookie } })).text();
const reference = form.match(/name="reference"><option value="([^"]+)"/)[1];
const spans = { kept: [], informed: [] };
for (let i = 0; i < 12; ++i) {
  await new Promise((next) => setTimeout(next, 500));
  const body = new URLSearchParams({ token, id: any(ids), key: `be${i.toString(16).padStart(6, '0')}${Date.now().toString(16)}`, reference, wavelength: '850', end: 'a', 'loss-1': '0.31', 'far-1': '12' }).toString();
  const from = process.hrtime.bigint();
  const since = () => Number(process.hrtime.bigint() - from) / 1e6;
  const heard = new Promise((done) => { informed = () => done(since()); });
  const status = await new Promise((done, failed) => {
    const asked = request(new URL('/link/readings', address), { method: 'POST', agent, headers: { Cookie: cookie, 'Content-Type': 'application/x-www-form-urlencoded', 'Content-Length': body.length } }, (answer) => {
      answer.resume();
      answer.on('end', () => done(answer.statusCode));
    });
    asked.on('error', failed);
    asked.end(body);
  });
  if (status !== 303) throw new Error(`an entry: answered ${status}`);
  spans.kept.push(since());
  spans.informed.push(await heard);
}
for (const [what, list] of Object.entries(spans)) {
  list.sort((a, b) => a - b);
  console.log(`an entry is ${what}: median ${list[6].toFixed(0)} ms, slowest ${list[11].toFixed(0)} ms`);
}
if (spans.informed[11] > 1000) ++slow;
stream.destroy();
child.kill('SIGINT');
await new Promise((done) => child.on('exit', done));
process.exitCode = slow ? 1 : 0;
