// SPDX-License-Identifier: Apache-2.0
// The workbench's server under strangers and under many: what is no plain request is refused before it is read, nobody without a
// session gets its memory or its threads, and who has a session is answered all the same. A stranger is one who brings
// no session; 127.0.0.2 and so on are other addresses of this machine.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { Agent, request as plain_request } from 'node:http';
import { request as tls_request } from 'node:https';
import { connect } from 'node:net';
import { networkInterfaces } from 'node:os';
import { after, test } from 'node:test';
import { connect as tls_connect } from 'node:tls';
import { gunzipSync } from 'node:zlib';
import { clean_up, demo_job, serve, until, workplace } from './workbench.mjs';

after(clean_up);

async function bench(words = []) {
  const folder = workplace();
  const job = demo_job(folder);
  const server = await serve(folder, job, words);
  const to = new URL(server.address);
  return { folder, server, host: to.hostname === '0.0.0.0' ? '127.0.0.1' : to.hostname.replace(/[[\]]/g, ''), port: Number(to.port), tls: to.protocol === 'https:', address_file: server.address_file };
}

/** kB of memory, at the most so far. */
const peak = (server) => Number(readFileSync(`/proc/${server.child.pid}/status`, 'utf8').match(/VmHWM:\s+(\d+)/)[1]);
const threads = (server) => Number(readFileSync(`/proc/${server.child.pid}/status`, 'utf8').match(/Threads:\s+(\d+)/)[1]);
const sanitized = () => readFileSync(process.env.GUIDEPIN_PROGRAM).includes('__asan_init');

function open_socket({ host, port, tls }, from = '127.0.0.1') {
  const socket = tls ? tls_connect({ host, port, localAddress: from, rejectUnauthorized: false }) : connect({ host, port, localAddress: from });
  socket.on('error', () => {});
  return socket;
}

/** Sends bytes as they are; the whole answer as text once the other side ends, and what it was cut short by. */
function raw(at, bytes, { from, more = null, hang = 20000 } = {}) {
  return new Promise((done) => {
    const socket = open_socket(at, from);
    let text = '';
    const late = setTimeout(() => { socket.destroy(); done({ text, ended: 'not at all', status: Number(text.slice(9, 12)) }); }, hang);
    const end = (ended) => { clearTimeout(late); done({ text, ended, status: Number(text.slice(9, 12)) }); };
    socket.on('data', (part) => { text += part.toString('latin1'); });
    socket.on('end', () => { socket.destroy(); end('end'); });
    socket.on('close', () => end('close'));
    socket.write(bytes);
    if (more) more(socket);
  });
}

/** One request of a person who has a cookie. */
function ask(at, path, { method = 'GET', headers = {}, body = '', agent, from = '127.0.0.1' } = {}) {
  return new Promise((done, failed) => {
    const sent = { host: at.host, port: at.port, path, method, agent, localAddress: from, rejectUnauthorized: false, headers: { ...(body || method === 'POST' ? { 'Content-Length': Buffer.byteLength(body) } : {}), ...headers } };
    const asked = (at.tls ? tls_request : plain_request)(sent, (answer) => {
      const parts = [];
      answer.on('data', (part) => parts.push(part));
      answer.on('end', () => done({ status: answer.statusCode, headers: answer.headers, body: Buffer.concat(parts) }));
      answer.on('error', failed);
    });
    asked.on('error', failed);
    asked.setTimeout(30000, () => asked.destroy(new Error('no answer in 30 s')));
    asked.end(body);
  });
}

const cookie_of = (answer) => answer.headers['set-cookie'].find((one) => one.startsWith('gp_')).split(';')[0];
const form = (fields) => new URLSearchParams(fields).toString();
const form_type = { 'Content-Type': 'application/x-www-form-urlencoded' };

/** A lead at the machine. */
async function lead_of(at) {
  const { pathname, search } = new URL(readFileSync(at.address_file, 'utf8').trim());
  const cookie = cookie_of(await ask(at, pathname + search));
  const token = (await ask(at, '/token', { headers: { Cookie: cookie } })).body.toString().trim();
  return { cookie, token };
}

/** A device that is not the machine, paired for a person, who is named first where a role is given. */
async function paired(at, lead, name, role) {
  const post = (path, fields) => ask(at, path, { method: 'POST', headers: { ...form_type, Cookie: lead.cookie }, body: form({ token: lead.token, ...fields }) });
  if (role) await post('/people', { name, role });
  const code = (await post('/people/code', { name })).body.toString().match(/id="code">([0-9 ]+)</)[1].replace(/\D/g, '');
  const away = { 'X-Forwarded-For': '192.0.2.7' };
  const cookie = cookie_of(await ask(at, '/pair', { method: 'POST', headers: { ...form_type, ...away }, body: form({ code }) }));
  const token = (await ask(at, '/token', { headers: { ...away, Cookie: cookie } })).body.toString().trim();
  return { cookie, token, away };
}

test('what is no plain request is refused, and the connection is closed', async () => {
  const { server, ...at } = await bench();
  const host = `Host: ${at.host}:${at.port}\r\n`;
  const { cookie } = await lead_of(at);
  const post = (headers, body = '') => `POST /link/note HTTP/1.1\r\n${host}Cookie: ${cookie}\r\n${headers}\r\n${body}`;
  const cases = [
    [411, 'a body in pieces', post('Transfer-Encoding: chunked\r\n', '5\r\nhello\r\n0\r\n\r\n')],
    [411, 'any transfer coding', post('Transfer-Encoding: gzip\r\nContent-Length: 5\r\n', 'hello')],
    [400, 'both lengths', post('Content-Length: 5\r\nTransfer-Encoding: chunked\r\n', '0\r\n\r\n')],
    [415, 'a compressed body', post('Content-Encoding: gzip\r\nContent-Length: 5\r\n', 'hello')],
    [411, 'no length', post('')],
    [413, '17 MB', post(`Content-Length: ${17 << 20}\r\n`)],
    [400, '2^66 bytes', post('Content-Length: 73786976294838206464\r\n')],
    [400, 'a length below nothing', post('Content-Length: -5\r\n', 'hello')],
    [400, 'a length with a sign', post('Content-Length: +5\r\n', 'hello')],
    [400, 'a length in hex', post('Content-Length: 0x5\r\n', 'hello')],
    [400, 'two lengths', post('Content-Length: 5\r\nContent-Length: 6\r\n', 'hello')],
    [400, 'the same length twice', post('Content-Length: 5\r\nContent-Length: 5\r\n', 'hello')],
    [400, 'a list of lengths', post('Content-Length: 5, 5\r\n', 'hello')],
    [400, 'a header over two lines', post('X-One: a\r\n b\r\nContent-Length: 0\r\n')],
    [400, 'a space before a colon', post('Content-Length : 5\r\n', 'hello')],
    [400, 'a header without a name', post(': x\r\nContent-Length: 0\r\n')],
    [400, 'a line that ends without a return', `GET / HTTP/1.1\n${host}\r\n\r\n`],
    [400, 'a control character', `GET / HTTP/1.1\r\n${host}X-A: a\x01b\r\n\r\n`],
    [400, 'a zero byte', `GET / HTTP/1.1\r\n${host}X-A: a\0b\r\n\r\n`],
    [400, 'no host', 'GET / HTTP/1.1\r\n\r\n'],
    [400, 'two hosts', `GET / HTTP/1.1\r\n${host}${host}\r\n`],
    [400, 'an address with a host', `GET http://192.0.2.1/ HTTP/1.1\r\n${host}\r\n`],
    [400, 'a body with GET', `GET / HTTP/1.1\r\n${host}Content-Length: 3\r\n\r\nabc`],
    [505, 'HTTP/2.0', `GET / HTTP/2.0\r\n${host}\r\n`],
    [505, 'HTTP/1.2', `GET / HTTP/1.2\r\n${host}\r\n`],
    [414, 'a request line of 9 kB', `GET /${'a'.repeat(9000)} HTTP/1.1\r\n${host}\r\n`],
    [431, 'a header block of 17 kB', `GET / HTTP/1.1\r\n${host}X-A: ${'a'.repeat(17000)}\r\n\r\n`],
    [431, '65 headers', `GET / HTTP/1.1\r\n${host}${'X-A: a\r\n'.repeat(65)}\r\n`],
    [417, 'another expectation', post('Expect: everything\r\nContent-Length: 5\r\n', 'hello')],
    [405, 'another method', `DELETE /people HTTP/1.1\r\n${host}\r\n`],
    [421, 'a foreign host', 'GET / HTTP/1.1\r\nHost: evil.example\r\n\r\n'],
    [401, 'a long body without a session', `POST /link/note HTTP/1.1\r\n${host}Content-Length: 100000\r\n\r\n`],
    [413, 'a long code', `POST /pair HTTP/1.1\r\n${host}Content-Length: 1025\r\n\r\n`],
  ];
  const wrong = [];
  for (const [status, what, bytes] of cases) {
    const answer = await raw(at, bytes);
    if (answer.status !== status) { wrong.push(`${what}: ${answer.status} instead of ${status}`); continue; }
    assert.match(answer.text, /\r\nConnection: close\r\n/i, what);
    assert.equal(answer.text.split('HTTP/1.1 ').length, 2, `${what}: one answer, nothing more is read as a request`);
  }
  assert.deepEqual(wrong, []);
  // What comes after a refusal in the same bytes is no request.
  const smuggled = await raw(at, post('Content-Length: 5\r\nTransfer-Encoding: chunked\r\n', `0\r\n\r\nGET /links HTTP/1.1\r\n${host}\r\n`));
  assert.equal(smuggled.text.split('HTTP/1.1 ').length, 2);
  // Good requests one after the other in the same bytes are each answered, in their order.
  const two = await raw(at, `HEAD /links HTTP/1.1\r\n${host}Cookie: ${cookie}\r\n\r\nGET /token HTTP/1.1\r\n${host}Cookie: ${cookie}\r\nConnection: close\r\n\r\n`);
  assert.equal(two.text.split('HTTP/1.1 200').length, 3, two.text.slice(0, 500));
  assert.ok(two.text.indexOf('text/html') < two.text.indexOf('text/plain'));
  const old = await raw(at, `GET /token HTTP/1.0\r\n${host}Cookie: ${cookie}\r\n\r\n`);
  assert.equal(old.status, 200);
  // A device that asks first gets the answer to go on.
  const waited = await raw(at, `POST /link/note HTTP/1.1\r\n${host}Cookie: ${cookie}\r\nContent-Length: 5\r\nExpect: 100-continue\r\nConnection: close\r\n\r\n`, { more: (socket) => socket.once('data', () => socket.write('a=b&c')) });
  assert.match(waited.text, /^HTTP\/1\.1 100 Continue\r\n\r\nHTTP\/1\.1 403 /);
  await server.stop();
});

test('a stranger gets neither memory nor threads', async () => {
  const { server, ...at } = await bench();
  const host = `Host: ${at.host}:${at.port}\r\n`;
  await lead_of(at);
  await ask(at, '/pair', { headers: { 'X-Forwarded-For': '192.0.2.7' } });
  const before = peak(server);
  const before_threads = threads(server);
  const head = `POST /pair HTTP/1.1\r\n${host}`;
  const piece = Buffer.alloc(1 << 20, 'a');
  /** Writes without end, until the other side has enough. */
  const pour = (bytes, most) => (socket) => {
    let sent = 0;
    const next = () => {
      while (!socket.destroyed && sent < most) {
        sent += bytes.length;
        if (!socket.write(bytes)) { socket.once('drain', next); return; }
      }
    };
    next();
  };
  const attacks = [
    raw(at, `${head}Content-Encoding: gzip\r\nContent-Length: 1492000\r\n\r\n`, { more: pour(piece, 1492000) }),
    raw(at, `${head}Transfer-Encoding: chunked\r\n\r\n`, { more: pour(Buffer.concat([Buffer.from('100000\r\n'), piece, Buffer.from('\r\n')]), 600 << 20) }),
    raw(at, `${head}\r\n`, { more: pour(piece, 600 << 20) }),
    raw(at, `${head}X-A: `, { more: pour(piece, 200 << 20) }),
    raw(at, 'GET /', { more: pour(piece, 200 << 20) }),
    raw(at, head, { more: pour(Buffer.from('X-A: a\r\n'.repeat(10000)), 300000 * 8) }),
    ...Array.from({ length: 100 }, () => raw(at, `${head}Content-Length: 16000000\r\n\r\n`, { more: pour(piece, 16000000) })),
  ];
  for (const answer of await Promise.all(attacks)) assert.notEqual(answer.ended, 'not at all');
  // 300 who never go on, half of them with a long beginning.
  const idle = Array.from({ length: 300 }, (_, i) => {
    const socket = open_socket(at, `127.0.0.${2 + i % 3}`);
    if (i % 2) socket.write(`GET / HTTP/1.1\r\n${host}X-A: ${'a'.repeat(15000)}`);
    return socket;
  });
  await Promise.all(idle.map((socket) => new Promise((ready) => { socket.once('connect', ready); socket.once('close', ready); })));
  assert.equal((await ask(at, '/pair', { headers: { 'X-Forwarded-For': '192.0.2.7' } })).status, 200);
  const grown = peak(server) - before;
  // The sanitizer keeps freed memory back; without it the limit is the one that is promised.
  assert.ok(grown < (sanitized() ? 300_000 : 32_000), `memory grew by ${grown} kB`);
  assert.ok(threads(server) <= before_threads, 'no thread for a stranger');
  for (const socket of idle) socket.destroy();
  await server.stop();
});

test('who has a session is answered while others hold connections open, also from the same address', async () => {
  const { server, ...at } = await bench(['--tls']);
  const lead = await lead_of(at);
  const phone = await paired(at, lead, 'Ines', 'technician');
  const plain = { ...at, tls: false };
  const held = [];
  const hold = (socket) => { held.push(socket); socket.on('error', () => {}); return socket; };
  for (let i = 0; i < 60; ++i) hold(open_socket(plain, '127.0.0.2')); // never begin TLS
  for (let i = 0; i < 200; ++i) hold(open_socket(at, '127.0.0.2')); // say nothing
  const slow = [];
  for (let i = 0; i < 100; ++i) {
    const socket = hold(open_socket(at, '127.0.0.2'));
    socket.write(`GET / HTTP/1.1\r\nHost: ${at.host}\r\n`);
    slow.push(socket);
  }
  const dribble = setInterval(() => { for (const socket of slow) if (!socket.destroyed) socket.write('X-A: a\r\n'); }, 1000);
  for (let round = 0; round < 5; ++round) {
    for (const from of ['127.0.0.2', '127.0.0.3']) {
      const answer = await ask(at, '/links', { from, headers: { Cookie: phone.cookie, ...phone.away } });
      assert.equal(answer.status, 200, from);
      assert.match(answer.body.toString(), /Ines/);
    }
    await new Promise((next) => setTimeout(next, 200));
  }
  // A deadline is of the whole head, however steadily it dribbles in; who never begins is out sooner.
  await until('the slow ones are out', () => slow.every((socket) => socket.destroyed || socket.readableEnded), 30000);
  await until('all others are out', () => held.every((socket) => socket.destroyed || socket.readableEnded), 30000);
  clearInterval(dribble);
  for (const socket of held) socket.destroy();
  await server.stop();
});

test('a body that stays away and an answer that is not read end the connection', async () => {
  const { server, ...at } = await bench();
  const { cookie } = await lead_of(at);
  const host = `Host: ${at.host}:${at.port}\r\n`;
  const begun = Date.now();
  const waiting = raw(at, `POST /link/note HTTP/1.1\r\n${host}Cookie: ${cookie}\r\nContent-Length: 500\r\n\r\nhalf`, { hang: 60000 });
  // Asks for pages without end and reads none: its socket fills, and it is dropped.
  const deaf = open_socket(at);
  deaf.pause();
  let gone = false;
  deaf.on('close', () => { gone = true; });
  const asks = setInterval(() => { if (!deaf.destroyed) deaf.write(`GET /links HTTP/1.1\r\n${host}Cookie: ${cookie}\r\n\r\n`.repeat(50)); }, 100);
  assert.notEqual((await waiting).ended, 'not at all');
  assert.ok(Date.now() - begun > 5000, 'a slow line has its time');
  await until('who reads nothing is out', () => gone, 60000);
  clearInterval(asks);
  assert.equal((await ask(at, '/', { headers: { Cookie: cookie } })).status, 200);
  await server.stop();
});

test('streams of changes: told at once, limited in number, ended with the session', async () => {
  const { server, ...at } = await bench();
  const lead = await lead_of(at);
  const phone = await paired(at, lead, 'Ines', 'technician');
  const listen = (headers) => new Promise((done, failed) => {
    const asked = plain_request({ host: at.host, port: at.port, path: '/events', headers, agent: false }, (answer) => {
      const stream = { status: answer.statusCode, headers: answer.headers, text: '', ended: false, end: () => asked.destroy() };
      answer.on('data', (part) => { stream.text += part; });
      answer.on('close', () => { stream.ended = true; });
      answer.on('error', () => {});
      done(stream);
    });
    asked.on('error', failed);
    asked.end();
  });
  const before = threads(server);
  const own = await Promise.all(Array.from({ length: 20 }, () => listen({ Cookie: lead.cookie })));
  const taken = own.filter((one) => one.status === 200);
  assert.ok(taken.length >= 8 && taken.length < 20, `${taken.length} of 20 streams of one session`);
  for (const one of own.filter((stream) => stream.status !== 200)) {
    assert.equal(one.status, 503);
    assert.equal(one.headers['retry-after'], '5');
  }
  const other = await listen({ Cookie: phone.cookie, ...phone.away });
  assert.equal(other.status, 200, 'another session has its own');
  assert.equal(threads(server), before, 'no thread for a stream');
  await until('the first word', () => other.text.includes('event: changed'));
  const seen = other.text.length;
  const note = await ask(at, '/link/note', { method: 'POST', headers: { ...form_type, Cookie: lead.cookie }, body: form({ token: lead.token, id: 'N-07', key: 'ab01', text: 'told' }) });
  assert.equal(note.status, 303);
  await until('all are told', () => other.text.length > seen && taken.every((one) => one.text.split('event: changed').length > 2));
  await until('a sign of life', () => other.text.includes(': still here'), 20000);
  await ask(at, '/leave', { method: 'POST', headers: { ...form_type, Cookie: phone.cookie, ...phone.away }, body: form({ token: phone.token }) });
  await until('the stream ends with its session', () => other.ended);
  assert.ok(taken.every((one) => !one.ended));
  await server.stop();
  await until('all streams end with the workbench', () => taken.every((one) => one.ended));
});

test('a page is kept for who asked for it, until something changes', async () => {
  const { server, ...at } = await bench();
  const lead = await lead_of(at);
  const people = [lead, await lead_of(at), await paired(at, lead, 'Ines', 'technician'), await paired(at, lead, 'Vera', 'reviewer'), await paired(at, lead, 'Ines')];
  const get = (person, path, headers = {}) => ask(at, path, { headers: { Cookie: person.cookie, ...person.away, ...headers } });
  for (const path of ['/', '/links', '/link?id=N-07', '/site-map', '/reference', '/findings', '/set-up', '/about']) {
    for (let round = 0; round < 2; ++round) {
      for (const [i, person] of people.entries()) {
        const text = (await get(person, path)).body.toString();
        assert.match(text, new RegExp(`data-token="${person.token}"`), `${path} of person ${i}`);
        for (const other of people) if (other.token !== person.token) assert.ok(!text.includes(other.token), `${path}: the token of another session`);
        assert.match(text, new RegExp(`<p class="who">${['Test Person', 'Test Person', 'Ines', 'Vera', 'Ines'][i]}<`), path);
      }
    }
  }
  assert.doesNotMatch((await get(people[3], '/link?id=N-07')).body.toString(), /id="enter"/, 'a reviewer is offered no entry');
  const theme = await get(lead, '/', { Cookie: `${lead.cookie}; gp_theme=dark` });
  assert.match(theme.body.toString(), /data-theme="dark"/);
  assert.doesNotMatch((await get(lead, '/')).body.toString(), /data-theme/);
  // Compressed or not, as each asks; the same page a second time is not sent again.
  const packed = await get(lead, '/links', { 'Accept-Encoding': 'gzip' });
  assert.equal(packed.headers['content-encoding'], 'gzip');
  assert.equal(gunzipSync(packed.body).toString(), (await get(lead, '/links')).body.toString());
  const again = await get(lead, '/about', { 'If-None-Match': (await get(lead, '/about')).headers.etag });
  assert.equal(again.status, 304);
  assert.equal(again.body.length, 0);
  // A change is on everybody's next page, whoever made it and where.
  for (let i = 0; i < 10; ++i) {
    for (const person of people) await get(person, '/link?id=N-07');
    const text = `note number ${i} of this test`;
    const sent = await ask(at, '/link/note', { method: 'POST', headers: { ...form_type, Cookie: people[i % 5].cookie, ...people[i % 5].away }, body: form({ token: people[i % 5].token, id: 'N-07', key: `cc${i}0`, text }) });
    assert.equal(sent.status, 303);
    for (const person of people) assert.ok((await get(person, '/link?id=N-07')).body.toString().includes(text), `${text} is missing`);
  }
  // Who has left gets nothing that was kept.
  await ask(at, '/leave', { method: 'POST', headers: { ...form_type, Cookie: people[3].cookie, ...people[3].away }, body: form({ token: people[3].token }) });
  assert.equal((await get(people[3], '/link?id=N-07')).status, 303);
  await server.stop();
});

test('a thousand requests at once are each answered or refused', async () => {
  const { server, ...at } = await bench();
  const { cookie } = await lead_of(at);
  const agent = new Agent({ keepAlive: false, maxSockets: 2000 });
  const statuses = await Promise.all(Array.from({ length: 1000 }, (_, i) => ask(at, ['/', '/links', '/site-map', `/links?from=${i}`][i % 4], { agent, headers: { Cookie: cookie, 'Accept-Encoding': 'gzip' } })
    .then((answer) => answer.status, (error) => error.code ?? error.message)));
  const counted = {};
  for (const status of statuses) counted[status] = (counted[status] ?? 0) + 1;
  assert.equal((counted[200] ?? 0) + (counted[503] ?? 0), 1000, JSON.stringify(counted));
  assert.ok(counted[200] >= 100, JSON.stringify(counted));
  assert.equal((await ask(at, '/', { headers: { Cookie: cookie } })).status, 200);
  await server.stop();
});

test('it listens on IPv6 too, and ends at once whoever holds a connection open', async (t) => {
  if (!networkInterfaces().lo?.some((one) => one.address === '::1')) return t.skip('this machine has no IPv6');
  const { server, ...at } = await bench(['--listen', '::1']);
  assert.match(server.address, /^http:\/\/\[::1\]:\d+\/$/);
  const held = connect({ host: '::1', port: at.port });
  held.on('error', () => {});
  const answer = await fetch(server.address);
  assert.equal(answer.status, 200);
  await answer.text();
  const begun = Date.now();
  await server.stop();
  assert.ok(Date.now() - begun < 20000, 'it waited for who says nothing');
  held.destroy();
});
