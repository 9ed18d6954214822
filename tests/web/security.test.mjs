// SPDX-License-Identifier: Apache-2.0
// The workbench attacked: other origins, missing tokens, forged roles, paths in names, too much, script in every text field.
// A stranger is a device that brought no one-time key: where its requests come from does not matter.
import assert from 'node:assert/strict';
import { createServer, request as plain_request } from 'node:http';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { browser, clean_up, demo_job, device, run, serve, until, workplace } from './workbench.mjs';

after(clean_up);
const evil = '"><img src=x onerror="window.pwned=1"><script>window.pwned=1</script>';

async function bench(words = []) {
  const folder = workplace();
  const job = demo_job(folder);
  return { folder, job, server: await serve(folder, job, words) };
}

const records = (folder) => Number(JSON.parse(run(folder, ['check', 'demo.guidepin', '--json'])).records);
const token_of = async (request) => (await (await request.get('/token')).text()).trim();

/** One raw request, headers as given. */
function raw(address, path, { method = 'GET', headers = {}, body = '' } = {}) {
  const to = new URL(address);
  return new Promise((done, failed) => {
    const asked = plain_request({ host: to.hostname, port: to.port, path, method, headers: { 'Content-Length': Buffer.byteLength(body), ...headers }, setHost: !headers.Host }, (answer) => {
      let text = '';
      answer.on('data', (bytes) => { text += bytes; });
      answer.on('end', () => done({ status: answer.statusCode, headers: answer.headers, text }));
    });
    asked.on('error', failed);
    asked.end(body);
  });
}

async function changes(server) {
  const context = await device(server);
  const { pages } = await (await context.request.get('/pages.json')).json();
  await context.close();
  return pages.filter((page) => page.method === 'POST');
}

/** Pairs a device of a person in this role, as a person would. */
async function paired(server, lead, name, role, more = {}) {
  await lead.request.post('/people', { multipart: { token: await token_of(lead.request), name, role } });
  const shown = await lead.request.post('/people/code', { multipart: { token: await token_of(lead.request), name } });
  const code = (await shown.text()).match(/id="code">([0-9 ]+)</)[1];
  const context = await device(server, 'phone', { stranger: true, ...more });
  const page = await context.newPage();
  await page.goto('/');
  assert.match(page.url(), /\/pair$/, 'a device that is not paired is shown the way to pair');
  await page.locator('[name=code]').fill(code);
  await page.getByRole('button', { name: 'Pair' }).click();
  await page.waitForURL((address) => address.pathname === '/');
  await page.close();
  return { context, code };
}

test('a change from another origin, under another name, or without the token is refused', async () => {
  const { folder, server } = await bench();
  const before = records(folder);
  const lead = await device(server);
  await lead.request.get('/');
  const token = await token_of(lead.request);
  const session = (await lead.cookies()).map((one) => `${one.name}=${one.value}`).join('; ');
  const host = new URL(server.address).host;
  const form = { 'Content-Type': 'application/x-www-form-urlencoded', Cookie: session };
  for (const page of await changes(server)) {
    const body = `token=${token}&name=Mallory&role=lead&id=N-07&text=hello&key=ff`;
    for (const [what, headers] of [
      ['another origin', { ...form, Origin: 'http://192.0.2.9' }],
      ['another port of this machine', { ...form, Origin: 'http://127.0.0.1:1' }],
      ['no origin a page can have', { ...form, Origin: 'null' }],
      ['a page of another site', { ...form, 'Sec-Fetch-Site': 'cross-site' }],
      ['a page of the same site', { ...form, 'Sec-Fetch-Site': 'same-site' }],
    ]) assert.equal((await raw(server.address, page.path, { method: 'POST', headers, body })).status, 403, `${page.path} from ${what}`);
    assert.equal((await raw(server.address, page.path, { method: 'POST', headers: { ...form, Host: 'evil.example' }, body })).status, 421, `${page.path} under another name`);
    if (page.path === '/pair') continue;
    for (const [what, stolen] of [['no token', ''], ['a wrong token', 'token=0123456789abcdef']]) {
      assert.equal((await raw(server.address, page.path, { method: 'POST', headers: form, body: stolen })).status, 403, `${page.path} with ${what}`);
    }
    assert.ok([401, 403].includes((await raw(server.address, page.path, { method: 'POST', headers: { ...form, Cookie: '' }, body })).status), `${page.path} without a session`);
  }
  for (const method of ['PUT', 'DELETE', 'PATCH']) assert.equal((await raw(server.address, '/people', { method, headers: { Cookie: session } })).status, 405, method);
  assert.equal((await raw(server.address, '/', { headers: { Host: 'evil.example' } })).status, 421, 'a name that was made to point here');
  assert.equal((await raw(server.address, '/', { headers: { Host: host, Cookie: session } })).status, 200);

  // The same by a browser: a page on another port of this machine sends a form; cookies go along, the change does not.
  const other = createServer((request, answer) => {
    answer.setHeader('Content-Type', 'text/html');
    answer.end(`<!DOCTYPE html><form method="post" action="${server.address}people"><input name="name" value="Mallory"><input name="role" value="lead"></form><script>document.forms[0].submit()</script>`);
  });
  await new Promise((done) => other.listen(0, '127.0.0.1', done));
  const victim = await lead.newPage();
  await victim.goto('/');
  await victim.goto(`http://127.0.0.1:${other.address().port}/`);
  await victim.waitForURL(`${server.address}people`);
  assert.match(await victim.locator('body').innerText(), /own pages/);
  other.close();
  await lead.close();
  await server.stop();
  assert.equal(records(folder), before, 'nothing was written');
});

test('each role may what it may: every change tried as reviewer, technician and lead', async () => {
  const { folder, server } = await bench();
  const lead = await device(server);
  await lead.request.get('/');
  const { context: technician, code } = await paired(server, lead, 'Ines', 'technician');
  const { context: reviewer } = await paired(server, lead, 'Vera', 'reviewer');
  const before = records(folder);
  for (const [who, context, refused] of [['reviewer', reviewer, ['enter', 'lead']], ['technician', technician, ['lead']]]) {
    const token = await token_of(context.request);
    for (const page of await changes(server)) {
      if (!refused.includes(page.access)) continue;
      const answer = await context.request.post(page.path, { multipart: { token, role: 'lead', person: 'Test Person', access: 'lead', name: 'Mallory' }, headers: { 'X-Role': 'lead' }, maxRedirects: 0 });
      assert.equal(answer.status(), 403, `${page.path} as ${who}`);
    }
  }
  assert.equal(records(folder), before, 'nothing was written');
  // What is not offered cannot be tried by mistake.
  const page = await reviewer.newPage();
  await page.goto('/link?id=N-07');
  assert.equal(await page.locator('#enter').count(), 0);
  await page.goto('/hand-over');
  assert.equal(await page.getByRole('button', { name: /Build/ }).count(), 0);
  // A reviewer's note is the reviewer's, whatever the form says.
  await reviewer.request.post('/link/note', { multipart: { token: await token_of(reviewer.request), id: 'N-07', key: 'ab12', text: 'seen', person: 'Test Person' } });
  await page.goto('/link?id=N-07');
  assert.match(await page.locator('.notes').innerText(), /seen\s+Vera/);

  // A code is good once.
  const stranger = await device(server, 'phone', { stranger: true });
  assert.match((await stranger.request.post('/pair', { multipart: { code } })).url(), /wrong=yes/);
  assert.equal((await stranger.request.get('/pages.json', { maxRedirects: 0 })).status(), 303);

  // A change of role holds from the next request on; who leaves is out.
  const token = await token_of(technician.request);
  const tried = (context) => context.request.post('/reference/event', { multipart: { token, event: 'no-such-event', reference: 'R-9' }, maxRedirects: 0 });
  assert.notEqual((await tried(technician)).status(), 403);
  await lead.request.post('/people', { multipart: { token: await token_of(lead.request), name: 'Ines', role: 'reviewer' } });
  assert.equal((await tried(technician)).status(), 403, 'a reviewer from now on, in the same session');
  assert.equal((await technician.request.get('/token', { maxRedirects: 0 })).status(), 200);
  const session = await token_of(reviewer.request);
  await reviewer.request.post('/leave', { multipart: { token: session } });
  assert.equal((await reviewer.request.get('/token', { maxRedirects: 0 })).status(), 303);
  for (const context of [technician, reviewer, stranger, lead]) await context.close();
  await server.stop();
});

test('on a network: TLS, and the first device by the code on the terminal', async () => {
  const { server } = await bench(['--listen', '0.0.0.0']);
  assert.match(server.address, /^https:/);
  const here = server; // the address that is printed is the one of this machine
  assert.equal(new URL(here.address).hostname, '127.0.0.1');
  const code = server.said().match(/code (\d{4} \d{4})/)[1];
  const phone = await device(here, 'phone', { stranger: true });
  const page = await phone.newPage();
  await page.goto('/links');
  assert.match(page.url(), /\/pair$/);
  assert.equal((await phone.request.get('/links', { maxRedirects: 0 })).status(), 303);
  assert.equal((await phone.request.get('/events')).status(), 401);
  await page.locator('[name=code]').fill(code.replace(' ', ''));
  await page.getByRole('button', { name: 'Pair' }).click();
  await page.waitForURL((address) => address.pathname === '/');
  const [cookie] = (await phone.cookies()).filter((one) => /^gp_\d+$/.test(one.name));
  assert.match((await phone.request.get('/')).headers()['strict-transport-security'], /^max-age=\d+$/);
  assert.ok(cookie.secure && cookie.httpOnly && cookie.sameSite === 'Strict', JSON.stringify(cookie));
  await assert.rejects(raw(here.address.replace('https', 'http'), '/'), 'no answer in the clear');
  await phone.close();
  await server.stop();
});

test('every answer carries its guards, and no name becomes a path', async () => {
  const { folder, server } = await bench();
  writeFileSync(join(folder, 'secret.csv'), 'this is not of the package');
  const lead = await device(server);
  const { pages } = await (await lead.request.get('/pages.json')).json();
  for (const page of pages.filter((one) => one.method === 'GET')) {
    const headers = (await lead.request.get(page.path + page.example)).headers();
    assert.match(headers['content-security-policy'], /default-src '(self|none)'/, page.path);
    assert.doesNotMatch(headers['content-security-policy'], /unsafe-eval|script-src[^;]*unsafe-inline|\*/, page.path);
    assert.equal(headers['x-content-type-options'], 'nosniff', page.path);
    assert.equal(headers['referrer-policy'], 'same-origin', page.path);
  }
  for (const name of ['../secret.csv', '../demo.guidepin', '..%2Fsecret.csv', '/etc/passwd', '....//secret.csv', 'summary.pdf/../../secret.csv', 'summary.pdf%00.csv', '.', '']) {
    const answer = await lead.request.get(`/package?file=${name.includes('%') ? name : encodeURIComponent(name)}`);
    assert.equal(answer.status(), 404, name);
    assert.doesNotMatch(await answer.text(), /not of the package|root:/, name);
  }
  for (const path of ['/assets/../../secret.csv', '/assets/x/../../../etc/passwd', '/assets/%2e%2e/%2e%2e/etc/passwd', '/../secret.csv', '//etc/passwd', '/bring-in/file?file=../../secret.csv', '/photo?note=../secret.csv']) {
    const answer = await raw(server.address, path, { headers: { Cookie: (await lead.cookies()).map((one) => `${one.name}=${one.value}`).join('; ') } });
    assert.ok(answer.status >= 400, `${path}: ${answer.status}`);
    assert.doesNotMatch(answer.text, /not of the package|root:/, path);
  }
  const token = await token_of(lead.request);
  for (const name of ['../../../../tmp/escaped.csv', 'C:\\windows\\escaped.csv', `${'long'.repeat(200)}.csv`, 'two\nlines.csv']) {
    const answer = await lead.request.post('/bring-in/look', { multipart: { token, file: { name, mimeType: 'text/csv', buffer: Buffer.from('link;position\nN-01;1\n') } } });
    assert.equal(answer.status(), 200, name);
    const text = await answer.text();
    assert.doesNotMatch(text, /\.\.\/|windows\\|(long){40}/, name);
  }
  await lead.close();
  await server.stop();
});

test('too much, or what is no text, is refused and the workbench goes on', async () => {
  const { folder, server } = await bench();
  const before = records(folder);
  const lead = await device(server);
  const token = await token_of(lead.request);
  const send = (path, fields) => lead.request.post(path, { multipart: { token, ...fields }, maxRedirects: 0 });
  const file = (buffer, name = 'a.csv') => ({ file: { name, mimeType: 'text/csv', buffer } });
  const large = await send('/bring-in/look', file(Buffer.alloc(17 << 20, 'a'))).then((answer) => answer.status(), () => 'closed');
  assert.ok(large === 413 || large === 'closed', `17 MB: ${large}`);
  assert.equal((await send('/bring-in/look', file(Buffer.from('a,b\n\0\0\x01')))).status(), 422, 'no text');
  assert.equal((await send('/bring-in/look', file(Buffer.from('')))).status(), 422, 'nothing');
  assert.equal((await send('/bring-in/schedule', file(Buffer.from('\x89PNG\r\n\x1a\nxxxx'), 'a.png'))).status(), 422, 'a picture');
  for (const [what, photo] of [
    ['script as a photo', `data:image/svg+xml;base64,${Buffer.from('<svg onload="alert(1)"/>').toString('base64')}`],
    ['a page that says it is a picture', `data:image/png;base64,${Buffer.from('<html><script>1</script>').toString('base64')}`],
    ['no picture at all', 'javascript:alert(1)'],
    ['601 kB', `data:image/jpeg;base64,${Buffer.concat([Buffer.from([0xff, 0xd8, 0xff]), Buffer.alloc(601 * 1024)]).toString('base64')}`],
  ]) assert.equal((await send('/link/note', { id: 'N-07', key: 'cd34', text: 'x', photo })).status(), 422, what);
  assert.equal((await send('/link/note', { id: 'N-07', key: 'cd35', text: 'y'.repeat(5000) })).status(), 422, 'a note that is a book');
  assert.equal((await lead.request.get('/')).status(), 200);
  await lead.close();
  await server.stop();
  assert.equal(records(folder), before, 'nothing was written');
});

test('script in every text field is shown as what was typed', async () => {
  const { folder, server } = await bench();
  const lead = await device(server);
  const token = await token_of(lead.request);
  const send = async (path, fields) => {
    const answer = await lead.request.post(path, { multipart: { token, ...fields } });
    return [answer.status(), await answer.text()];
  };
  const csv = (text, name = `${evil}.csv`) => ({ file: { name, mimeType: 'text/csv', buffer: Buffer.from(text) } });
  const quoted = `"${evil.replaceAll('"', '""')}"`;
  const head = 'link,zone,end_a,end_b,category,length_m,family,fibres,trunk_type,pins_a,pins_b,face,adapter_a,adapter_b,inner_connections,splices,applications';
  assert.equal((await send('/bring-in/schedule', csv(`${head}\n${quoted},${quoted},${quoted},${quoted},OM4,66,mpo-12,12,B,pinned,pinned,flat,opposed,opposed,0,0,E100SR4\n`)))[0], 200);
  assert.equal((await send('/link/note', { id: 'N-07', key: 'ee01', text: evil }))[0], 200);
  assert.equal((await send('/link/note', { id: evil, key: 'ee02', text: evil }))[0], 200);
  assert.equal((await send('/people', { name: evil, role: 'technician' }))[0], 200);
  assert.equal((await send('/reference/event', { event: 'launch-cord-left-source', reference: 'R-9', note: evil }))[0], 200);
  assert.equal((await send('/reference/type', { id: 'R-<b>evil</b>', key: 'ee03', wavelength: '850', 'power-1': '-20.5', source: evil, meter: evil, launch: evil, tail: evil, substitution: evil }))[0] < 500, true);
  await send('/set-up/step', { setup: evil, step: evil, key: 'ee04' });
  await send('/link/readings', { id: evil, key: 'ee05', reference: 'R-1', wavelength: '850', end: 'a', 'loss-1': '0.31', 'far-1': '12' });
  const [, imports] = await send('/bring-in/look', csv(`link,launch_end,position,far_position,wavelength_nm,attenuation_db,length_m,taken_at,reference,operator\n${quoted},a,1,12,850,0.3,66,2026-03-04T15:00:00+01:00,R-6,${quoted}\nN-01,a,1,x,850,${quoted},66,yesterday,R-6,Ines\n`));
  const waiting = imports.match(/name="file" value="([0-9a-f]+)"/)[1];
  await send('/bring-in/map', { file: waiting, map: evil, reference: evil, positions: evil });
  const withdrawn = (await (await lead.request.get('/bring-in')).text()).match(/name="station" value="([^"]+)"[^>]*><input type="hidden" name="sequence" value="(\d+)"/);
  await send('/bring-in/withdraw', { station: withdrawn[1], sequence: withdrawn[2], reason: evil });
  const toml = evil.replaceAll('\\', '\\\\').replaceAll('"', '\\"');
  assert.equal((await send('/kit/add', { file: { name: `${evil}.toml`, mimeType: 'text/plain', buffer: Buffer.from(`[[cord]]\nserial = "${toml}"\npins-exchangeable = "far"\n`) } }))[0], 200);
  assert.equal((await send('/kit/pins', { item: evil, end: 'far', to: 'pinned', pins: '1', note: evil, key: 'ee06' }))[0], 200);
  assert.equal((await send('/kit/inspection', { item: evil, end: 'far', 'position-1': '3', 'zone-1': 'A', 'what-1': 'defect', 'size-1': '9', note: evil, key: 'ee07' }))[0], 200);
  assert.equal((await send('/kit/override', { item: evil, reason: evil, key: 'ee08' }))[0], 200);
  assert.equal((await send('/kit/leave', { item: evil, action: 'remove', reason: evil }))[0], 200);

  const { pages } = await (await lead.request.get('/pages.json')).json();
  // Then every form of every page, whoever made it: script in all its fields at once, then in one after the other.
  const walker = await lead.newPage();
  let fields = 0;
  for (const at of pages.filter((page) => page.method === 'GET' && page.access !== 'anybody' && !page.path.endsWith('.json')).map((page) => page.path + page.example).concat('/kit/item?id=L-1', `/bring-in/file?file=${waiting}`)) {
    const shown = await walker.goto(at).catch(() => null);
    if (!shown || !(shown.headers()['content-type'] ?? '').includes('html')) continue;
    const forms = await walker.evaluate(() => [...document.querySelectorAll('form[method=post]')].map((form) => ({
      address: form.getAttribute('action'),
      fields: [...form.elements].filter((one) => one.name && one.type !== 'file').map((one) => ({ name: one.name, value: one.value, typed: one.matches('textarea,input:not([type=hidden],[type=checkbox],[type=radio])'), button: one.tagName === 'BUTTON' })),
    })));
    for (const form of forms.filter((one) => !['/leave', '/hand-over/build', '/pair'].includes(one.address))) {
      const typed = form.fields.filter((one) => one.typed);
      fields += typed.length;
      for (const only of [null, ...typed.slice(0, 8)]) {
        const sent = {};
        for (const one of form.fields) if (!one.button) sent[one.name] = one.typed && (!only || only === one) ? evil : one.value || '1';
        if (sent.key) sent.key = `ff${Math.random().toString(16).slice(2)}`;
        const answer = await lead.request.post(form.address, { multipart: { ...sent, token } });
        assert.ok(answer.status() < 500, `${form.address}: ${answer.status()}`);
        assert.doesNotMatch(await answer.text(), /<img src=x|<script>window/, `${form.address} with ${JSON.stringify(sent)}`);
      }
    }
  }
  assert.ok(fields > 40, `only ${fields} fields were met`);
  await walker.close();
  const asked = encodeURIComponent(evil);
  const paths = pages.filter((page) => page.method === 'GET' && !page.path.endsWith('.json')).map((page) => page.path + page.example)
    .concat(['/links?find=', '/links?state=', '/links?zone=', '/links?day=', '/links?reference=', '/links?cord=', '/links?margin=', '/links?sort=', '/links?from=', '/link?id=', '/reference?id=',
      '/site-map?zone=', '/site-map?day=', '/hand-over?look=', '/package?file=', '/photo?note=', '/bring-in/file?file=', '/pair?wrong=', '/link?id=N-07&find=', '/kit/item?id=', '/findings?page=', '/set-up?group=', '/no-such-page/'].map((path) => path + asked))
    .concat([`/bring-in/file?file=${waiting}`, `/links?zone=${asked}&at=0`]);
  const page = await lead.newPage();
  let seen = 0;
  for (const path of paths) {
    const answer = await page.goto(path).catch(() => null);
    if (!answer) continue; // a download
    const text = await answer.text();
    assert.doesNotMatch(text, /<img src=x|<script>window/, path);
    assert.equal(await page.evaluate(() => window.pwned), undefined, path);
    if (text.includes('&lt;img src=x')) ++seen;
  }
  assert.ok(seen > 8, `what was typed was met on ${seen} pages: too few to prove anything`);
  assert.deepEqual(lead.faults.filter((one) => /Content Security Policy|script:/.test(one)), []);
  await lead.close();
  await server.stop();
  // And in what goes out on paper and as files.
  run(folder, ['verdicts', 'demo.guidepin'], [0, 1]);
});
