// SPDX-License-Identifier: Apache-2.0
// How people get in: the one-time address, codes and what they permit when they are used, guessing, the certificate.
// Oracles: the TLS of Node (which certificate is served), the openssl program, the job's own answers to each role.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { request as plain_request } from 'node:http';
import { request as secure_request } from 'node:https';
import { connect as connect_plain, createServer } from 'node:net';
import { join } from 'node:path';
import { connect } from 'node:tls';
import { after, test } from 'node:test';
import { clean_up, demo_job, device, enter, serve, sizes, until, workplace } from './workbench.mjs';

after(clean_up);

async function bench(words = []) {
  const folder = workplace();
  const job = demo_job(folder);
  return { folder, job, server: await serve(folder, job, words) };
}

const token_of = async (context) => (await (await context.request.get('/token')).text()).trim();
const post = async (context, path, fields) => context.request.post(path, { multipart: { token: await token_of(context), ...fields }, maxRedirects: 0 });
const code_in = (text) => text.match(/id="code">([0-9 ]+)</)[1].replaceAll(' ', '');
const code_for = async (lead, name) => code_in(await (await post(lead, '/people/code', { name })).text());
const whole = (fingerprint) => fingerprint.replace(/[^0-9A-F]/g, '');

/** A code sent from one of the many addresses of loopback. */
function guess(server, code, from = '127.0.0.1') {
  const to = new URL('/pair', server.address);
  const body = `code=${code}`;
  return new Promise((done, failed) => {
    const ask = to.protocol === 'https:' ? secure_request : plain_request;
    const asked = ask({ host: to.hostname, port: to.port, path: '/pair', method: 'POST', localAddress: from, rejectUnauthorized: false, agent: false, headers: { 'Content-Type': 'application/x-www-form-urlencoded', 'Content-Length': body.length } }, (answer) => {
      let text = '';
      answer.on('data', (bytes) => { text += bytes; });
      answer.on('end', () => done({ status: answer.statusCode, headers: answer.headers, text }));
    });
    asked.on('error', failed);
    asked.end(body);
  });
}
const is_in = (answer) => answer.status === 303 && answer.headers.location === '/' && (answer.headers['set-cookie'] || []).some((one) => /^gp_\d+=/.test(one));

/** The certificate that this server shows, by a client of its own. */
function certificate_of(server) {
  const to = new URL(server.address);
  return new Promise((done, failed) => {
    const line = connect({ host: to.hostname, port: to.port, rejectUnauthorized: false }, () => {
      done(line.getPeerCertificate());
      line.end();
    });
    line.on('error', failed);
  });
}

test('the printed address opens the workbench once, and only somebody who may read the file has the next one', async () => {
  const { server } = await bench();
  const file = server.address_file;
  assert.equal(statSync(file).mode & 0o7777, 0o600);
  assert.equal(readFileSync(file, 'utf8').trim(), server.printed);
  // Being on this machine is not enough.
  const stranger = await device(server, 'desktop', { stranger: true });
  const page = await stranger.newPage();
  await page.goto('/links');
  assert.equal(new URL(page.url()).pathname, '/pair');
  assert.match(await page.locator('main').innerText(), /On the serving machine itself[^]*one-time address/);
  assert.equal((await stranger.request.get('/events')).status(), 401);
  // The key opens, and leaves neither the address nor the history.
  await page.goto(server.printed);
  assert.equal(page.url(), server.address);
  assert.doesNotMatch(await page.content(), /key=/);
  const [, key] = server.printed.split('key=');
  assert.match(await page.locator('.who').innerText(), /Test Person[^]*lead/);
  assert.ok((await stranger.cookies()).some((one) => /^gp_\d+$/.test(one.name) && one.httpOnly && one.sameSite === 'Strict'));
  // Once.
  const late = await device(server, 'desktop', { stranger: true });
  const other = await late.newPage();
  await other.goto(server.printed);
  assert.equal(new URL(other.url()).pathname, '/pair');
  assert.match(await other.locator('.notice.bad').innerText(), /is wrong or was opened before/);
  assert.equal((await late.request.get('/pages.json', { maxRedirects: 0 })).status(), 303);
  // The next one is in the file; the first browser does not use it up by opening an old one again.
  const next = readFileSync(file, 'utf8').trim();
  assert.notEqual(next.split('key=')[1], key);
  await page.goto(server.printed);
  assert.equal(page.url(), server.address);
  assert.equal(readFileSync(file, 'utf8').trim(), next);
  await other.goto(next);
  assert.equal(other.url(), server.address);
  assert.equal(server.said().split('key=').length, 2, 'a log that others may read gets the first one alone');
  await stranger.close();
  await late.close();
  await server.stop();
  assert.ok(!existsSync(file), 'the file goes with the workbench');
});

test('what comes through a tunnel is a stranger until it brings a session, whatever headers say', async () => {
  const { server } = await bench();
  const inside = Number(new URL(server.address).port);
  const tunnel = createServer((line) => {
    const far = connect_plain(inside, '127.0.0.1');
    line.pipe(far).pipe(line);
    for (const end of [line, far]) end.on('error', () => { line.destroy(); far.destroy(); });
  });
  await new Promise((done) => tunnel.listen(0, '127.0.0.1', done));
  const through = { ...server, address: `http://127.0.0.1:${tunnel.address().port}/` };
  for (const headers of [{}, { 'X-Forwarded-For': '127.0.0.1' }, { Forwarded: 'for=127.0.0.1' }, { 'X-Real-IP': '127.0.0.1' }, { Via: '1.1 here' }]) {
    const far = await device(through, 'phone', { stranger: true, extraHTTPHeaders: headers });
    assert.equal((await far.request.get('/links', { maxRedirects: 0 })).headers().location, '/pair', JSON.stringify(headers));
    assert.deepEqual((await far.cookies()).filter((one) => /^gp_/.test(one.name)), []);
    await far.close();
  }
  tunnel.close();
  await server.stop();
});

test('a code gives the role that its person has when it is used, and a change of role holds at once', async () => {
  const { server } = await bench();
  const owner = await device(server);
  const pair = async (code) => {
    const context = await device(server, 'phone', { stranger: true });
    await context.request.post('/pair', { multipart: { code } });
    return context;
  };
  const may = async (context) => ({
    read: (await context.request.get('/links', { maxRedirects: 0 })).status() === 200,
    lead: (await post(context, '/people', { name: 'Nobody', role: 'no-such-role' })).status() === 422,
  });
  await post(owner, '/people', { name: 'Lea', role: 'lead' });
  const early = await code_for(owner, 'Lea');
  const used = await pair(await code_for(owner, 'Lea'));
  assert.deepEqual(await may(used), { read: true, lead: true });
  await post(owner, '/people', { name: 'Lea', role: 'reviewer' });
  const late = await pair(early);
  assert.deepEqual(await may(late), { read: true, lead: false }, 'made for a lead, used by a reviewer');
  assert.deepEqual(await may(used), { read: true, lead: false }, 'the open session follows at once');
  await post(owner, '/people', { name: 'Lea', role: 'lead' });
  assert.deepEqual(await may(late), { read: true, lead: true });
  // A lead who demotes himself is none on the next request; the serving machine's own session stays one.
  assert.equal((await post(used, '/people', { name: 'Lea', role: 'technician' })).status(), 303);
  assert.deepEqual(await may(used), { read: true, lead: false });
  assert.equal((await post(owner, '/people', { name: 'Test Person', role: 'reviewer' })).status(), 303);
  assert.deepEqual(await may(owner), { read: true, lead: true });
  assert.match(await (await owner.request.get('/kit')).text(), /this session always has the role of a lead/);
  const phone = await pair(await code_for(owner, 'Test Person'));
  assert.deepEqual(await may(phone), { read: true, lead: false }, 'on another device the same name has the role that the job gives it');
  for (const context of [owner, used, late, phone]) await context.close();
  await server.stop();
});

test('wrong codes slow the address that sends them, and void nobody’s code', async () => {
  const { server } = await bench();
  const owner = await device(server);
  await post(owner, '/people', { name: 'Ines', role: 'technician' });
  const good = await code_for(owner, 'Ines');
  const wrong = good === '00000000' ? '11111111' : '00000000';
  assert.match((await guess(server, wrong, '127.0.0.66')).headers.location, /wrong=yes/);
  assert.match((await guess(server, wrong, '127.0.0.66')).headers.location, /wrong=yes/);
  const third = await guess(server, wrong, '127.0.0.66');
  assert.equal(third.status, 429);
  assert.equal(third.headers['retry-after'], '2');
  const waits = await guess(server, good, '127.0.0.66');
  assert.equal(waits.status, 429, 'the right code is not tried either');
  assert.match(waits.text, /Too many wrong codes came from this device’s address|Too many wrong codes came from this device&#39;s address/);
  assert.ok(Number(waits.headers['retry-after']) > 0);
  for (let i = 0; i < 40; ++i) assert.equal((await guess(server, wrong, '127.0.0.66')).status, 429);
  // No thread sleeps for it: while that address waits, another one gets in.
  assert.ok(is_in(await guess(server, good, '127.0.0.7')));
  // By a person: a page that says it.
  const stranger = await device(server, 'phone', { stranger: true });
  const page = await stranger.newPage();
  await page.goto('/pair');
  for (const shown of [/wrong or has expired/, /wrong or has expired/, /the next one after 2 seconds/]) {
    await page.locator('[name=code]').fill(wrong);
    await page.getByRole('button', { name: 'Pair', exact: true }).click();
    await page.locator('.notice.bad').filter({ hasText: shown }).waitFor();
  }
  await stranger.close();
  await owner.close();
  await server.stop();
});

test('many addresses together spend a budget; then new codes are too long to guess and pairing goes on', async () => {
  const { server } = await bench();
  const owner = await device(server);
  await post(owner, '/people', { name: 'Ines', role: 'technician' });
  const short = await code_for(owner, 'Ines');
  assert.equal(short.length, 8);
  const wrong = short === '00000000' ? '11111111' : '00000000';
  let looked_at = 0;
  for (let i = 0; i < 130; ++i) {
    const answer = await guess(server, wrong, `127.0.${1 + Math.floor(i / 200)}.${1 + (i % 200)}`);
    if (answer.status === 303) ++looked_at;
    else assert.match(answer.text, /sixteen digits/);
  }
  assert.equal(looked_at, 100);
  const paused = await guess(server, short, '127.0.9.9');
  assert.equal(paused.status, 429);
  assert.ok(Number(paused.headers['retry-after']) > 500);
  const long = await code_for(owner, 'Ines');
  assert.equal(long.length, 16);
  assert.ok(is_in(await guess(server, long, '127.0.9.9')), 'nobody is locked out');
  await owner.close();
  await server.stop();
});

test('the fingerprint on the terminal, on the pages and in the QR code is that of the certificate', async () => {
  const { server } = await bench(['--listen', '0.0.0.0']);
  const served = await certificate_of(server);
  const lines = server.said().match(/^ {4}[0-9A-F]{4}( [0-9A-F]{4}){3}$/gm);
  assert.equal(lines.length, 4);
  assert.equal(whole(lines.join('')), whole(served.fingerprint256));
  assert.doesNotMatch(server.said(), /[▀▄█]/, 'a code is drawn on a terminal alone');
  const owner = await device(server);
  const page = await owner.newPage();
  await page.goto('/kit');
  assert.equal(whole(await page.locator('#fingerprint').innerText()), whole(served.fingerprint256));
  // A device that is not paired is asked to compare, and is shown none: somebody who intercepts the connection could show any.
  const stranger = await device(server, 'phone', { stranger: true });
  const asked = await (await stranger.request.get('/pair')).text();
  assert.match(asked, /SHA-256 fingerprint[^]*serving machine/);
  assert.ok(!whole(asked).includes(whole(served.fingerprint256).slice(0, 32)));

  await post(owner, '/people', { name: 'Ines', role: 'technician' });
  await page.reload();
  await page.getByRole('button', { name: 'Pair a device of Ines' }).click();
  await page.locator('#code').waitFor();
  assert.equal(whole(await page.locator('#fingerprint').innerText()), whole(served.fingerprint256));
  const code = (await page.locator('#code').innerText()).replaceAll(' ', '');
  const there = page.locator('.qr');
  if ((await there.count()) === 0) assert.equal(spawnSync('hostname', ['-I'], { encoding: 'utf8' }).stdout.trim(), '', 'a code is drawn where others can reach this machine');
  else {
    for (const theme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme: theme });
      const picture = (await there.screenshot()).toString('base64');
      const text = await page.evaluate(async (png) => {
        const image = new Image();
        image.src = `data:image/png;base64,${png}`;
        await image.decode();
        const canvas = document.createElement('canvas');
        canvas.width = image.naturalWidth;
        canvas.height = image.naturalHeight;
        const brush = canvas.getContext('2d');
        brush.drawImage(image, 0, 0);
        const { data } = brush.getImageData(0, 0, canvas.width, canvas.height);
        const form = new FormData();
        form.append('width', canvas.width);
        form.append('height', canvas.height);
        form.append('picture', new Blob([Uint8Array.from({ length: data.length / 4 }, (_, i) => data[4 * i])]), 'grey');
        return (await (await fetch('/links/code', { method: 'POST', body: form, headers: { 'X-Guidepin-Token': document.body.dataset.token } })).json()).text;
      }, picture);
      const read = new URL(text);
      assert.equal(`${read.protocol}${read.port}${read.pathname}${read.search}`, `https:${new URL(server.address).port}/pair`, theme);
      assert.equal(read.hash, `#code=${code}&sha256=${whole(served.fingerprint256)}`, theme);
    }
  }
  for (const context of [owner, stranger]) await context.close();
  await server.stop();
});

test('a code that was scanned is filled in, waits for the person, and leaves the address', async () => {
  const { server } = await bench();
  const stranger = await device(server, 'phone', { stranger: true });
  const page = await stranger.newPage();
  const sent = [];
  page.on('request', (request) => sent.push(request.url()));
  await page.goto('/pair#code=12345678&sha256=ABCDEF');
  await until('filled in', async () => (await page.locator('[name=code]').inputValue()) === '12345678');
  assert.ok(await page.locator('#scanned').isVisible());
  assert.equal(new URL(page.url()).hash, '');
  assert.ok(sent.every((one) => !one.includes('12345678')), 'nothing of it was sent');
  await page.goto('/pair?x#code=<b>12345678');
  assert.equal(await page.locator('[name=code]').inputValue(), '', 'what is no code is not taken');
  await stranger.close();
  await server.stop();
});

for (const size of Object.keys(sizes)) {
  test(`a device that knew the old certificate is told of the new one: when, why, both fingerprints: ${size}`, async () => {
    const { folder, job, server } = await bench(['--listen', '0.0.0.0']);
    const { port } = new URL(server.address);
    const old = await certificate_of(server);
    const context = await device(server, size);
    const page = await context.newPage();
    await page.goto('/kit');
    assert.equal(await page.locator('.banner').count(), 0);
    await server.stop();
    // As if it had been made for another network: without this machine's addresses.
    const pem = join(folder, 'home', 'guidepin', readdirSync(join(folder, 'home', 'guidepin')).find((one) => one === 'workbench.pem'));
    const made = spawnSync('openssl', ['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:P-256', '-nodes', '-subj', '/CN=x', '-days', '10', '-addext', 'subjectAltName=IP:192.0.2.250', '-keyout', join(folder, 'key'), '-out', join(folder, 'cert')], { encoding: 'utf8' });
    assert.equal(made.status, 0, made.stderr);
    writeFileSync(pem, readFileSync(join(folder, 'cert'), 'utf8') + readFileSync(join(folder, 'key'), 'utf8'));
    const again = await serve(folder, job, ['--listen', '0.0.0.0', '--port', port]);
    const served = await certificate_of(again);
    assert.notEqual(served.fingerprint256, old.fingerprint256);
    assert.match(again.said(), /The certificate is a new one: of the old one, it would have ended on \d{4}-\d\d-\d\d/);
    const days = (Date.parse(served.valid_to) - Date.parse(served.valid_from)) / 86400000;
    assert.ok(days > 390 && days <= 397, `${days} days`);
    // Before it is paired again, and after.
    await page.goto('/links');
    assert.equal(new URL(page.url()).pathname, '/pair');
    const banner = page.locator('.banner.certificate');
    const told = await banner.innerText();
    assert.match(told, /changed on .*\d\d:\d\d.*: it would have ended on/);
    assert.ok(whole(told).includes(whole(old.fingerprint256)), 'the old one');
    assert.ok(whole(told).includes(whole(served.fingerprint256)), 'the new one');
    await enter(context, again);
    await page.goto('/links');
    await banner.getByRole('button', { name: 'I have compared them' }).click();
    await page.waitForURL((address) => address.pathname === '/');
    assert.equal(await banner.count(), 0);
    await page.goto('/kit');
    assert.equal(await banner.count(), 0);
    await context.close();
    await again.stop();
  });
}

test('an entry that meets a job in trouble stays on the device, says why, and is sent once later', async () => {
  const { server } = await bench();
  const context = await device(server, 'phone');
  const page = await context.newPage();
  const kept = () => page.evaluate(() => JSON.parse(localStorage.getItem('guidepin.kept') || '[]'));
  const why = 'The job file was removed while the workbench was open.';
  for (const answer of [
    { status: 409, headers: { 'X-Guidepin-Trouble': 'yes' }, contentType: 'text/plain; charset=utf-8', body: `${why}\n` },
    { status: 503, headers: { 'Retry-After': '1' }, contentType: 'text/plain; charset=utf-8', body: `${why}\n` },
    { status: 500, contentType: 'text/plain; charset=utf-8', body: `${why}\n` },
    { status: 507, contentType: 'text/plain', body: `${why}\n` },
  ]) {
    await page.goto('/link?id=N-02');
    let sent = 0;
    await page.route('**/link/note', (route) => { ++sent; return route.fulfill(answer); });
    const words = `seen at ${answer.status}`;
    const note = page.locator('form[data-keep][action="/link/note"]').first();
    await note.evaluate((one) => { for (let at = one; at; at = at.parentElement) if (at.tagName === 'DETAILS') at.open = true; });
    await note.locator('[name=text]').fill(words);
    await note.locator('button:not([type=button])').last().click();
    await page.locator('#kept').filter({ hasText: why }).filter({ hasText: 'kept on this device' }).waitFor();
    assert.equal(await page.locator('#kept button').count(), 0, 'nothing has to be dropped or decided');
    assert.equal((await kept()).length, 1);
    await page.reload();
    assert.equal((await kept()).length, 1, 'over a reload, too');
    await page.unroute('**/link/note');
    await until('sent by itself', async () => (await kept()).length === 0, 30000);
    assert.ok(sent > 0);
    await until('shown once', async () => (await (await context.request.get('/link?id=N-02')).text()).split(words).length === 2);
  }
  // What is the entry's own fault waits for the person, as before.
  await page.route('**/link/note', (route) => route.fulfill({ status: 409, contentType: 'text/plain', body: 'No such link\n' }));
  const note = page.locator('form[data-keep][action="/link/note"]').first();
  await note.evaluate((one) => { for (let at = one; at; at = at.parentElement) if (at.tagName === 'DETAILS') at.open = true; });
  await note.locator('[name=text]').fill('refused');
  await note.locator('button:not([type=button])').last().click();
  await page.locator('#kept').filter({ hasText: 'was refused: No such link' }).waitFor();
  await context.close();
  await server.stop();
});
