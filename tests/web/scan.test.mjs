// SPDX-License-Identifier: Apache-2.0
// A link found by the code on its label, by a camera, by a photo, and where there is no camera.
// Oracle: qrencode, an independent encoder, draws the labels; poppler draws a certificate of the demo's package as a scanner would.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import axe from 'axe-core';
import { clean_up, demo_job, device, serve, workplace } from './workbench.mjs';

let folder;
let server;
before(async () => {
  folder = workplace();
  server = await serve(folder, demo_job(folder));
});
after(clean_up);

/** Runs a program that has to end well. */
function made_by(program, words, options = {}) {
  const done = spawnSync(program, words, { cwd: folder, maxBuffer: 1 << 26, ...options });
  assert.equal(done.status, 0, `${program}: ${done.error ?? done.stderr}`);
  return done.stdout;
}

/** The modules of a code, true where dark. */
function code(text) {
  const lines = made_by('qrencode', ['-t', 'ASCII', '-m', '4', '-o', '-', text], { encoding: 'utf8' }).split('\n').filter((line) => line.length > 0);
  return lines.map((line) => Array.from({ length: line.length / 2 }, (_, x) => line[2 * x] === '#'));
}

/** A film for the browser's make-believe camera (YUV4MPEG2, 4:2:0): a label off centre on a grey panel, one shot for each text. */
function film(name, texts) {
  const [width, height, shown] = [640, 480, 15];
  const frames = [Buffer.from(`YUV4MPEG2 W${width} H${height} F10:1 Ip A1:1 C420jpeg\n`)];
  for (const text of texts) {
    const modules = text === null ? [] : code(text);
    const unit = 7;
    const luma = Buffer.alloc(width * height, 110);
    modules.forEach((row, y) => row.forEach((dark, x) => {
      for (let dy = 0; dy < unit; ++dy) luma.fill(dark ? 30 : 220, (140 + y * unit + dy) * width + 240 + x * unit, (140 + y * unit + dy) * width + 240 + (x + 1) * unit);
    }));
    const colour = Buffer.alloc((width / 2) * (height / 2) * 2, 128);
    for (let i = 0; i < shown; ++i) frames.push(Buffer.from('FRAME\n'), luma, colour);
  }
  writeFileSync(join(folder, name), Buffer.concat(frames));
  return join(folder, name);
}

const camera = (file) => ['--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream', `--use-file-for-fake-video-capture=${file}`];

async function look_for_links(size, started_with, more = {}) {
  const context = await device(server, size, more, started_with);
  const page = await context.newPage();
  await page.goto('/links');
  return { context, page, said: page.locator('#scan-message'), scan: page.getByRole('button', { name: 'Scan a code' }) };
}

test('the camera sees the label of a link: the link opens', async () => {
  const { context, page, scan } = await look_for_links('phone', camera(film('label.y4m', [null, 'E-06'])));
  await scan.click();
  await page.locator('#scan-box video').waitFor();
  await page.waitForURL((address) => address.pathname === '/link' && address.searchParams.get('id') === 'E-06');
  assert.match(await page.locator('h1').innerText(), /E-06/);
  assert.deepEqual(context.faults, []);
  await context.close();
});

test('a code that is no link of the job is told, and the camera looks on until it is closed', async () => {
  const { context, page, scan, said } = await look_for_links('desktop', camera(film('stranger.y4m', ['box 14 of 20'])));
  await scan.click();
  await said.filter({ hasText: 'The code says “box 14 of 20”: no link of this job.' }).waitFor();
  assert.ok(await page.locator('#scan-box video').evaluate((video) => video.srcObject.active));
  await page.evaluate(axe.source);
  const found = await page.evaluate(() => window.axe.run('#scan-box', { resultTypes: ['violations'] }));
  assert.deepEqual(found.violations.map((one) => one.id), []);
  const track = await page.evaluateHandle(() => document.querySelector('#scan-box video').srcObject.getTracks()[0]);
  await page.getByRole('button', { name: 'Close' }).click();
  assert.equal(await track.evaluate((one) => one.readyState), 'ended', 'the camera is let go');
  assert.ok(await page.locator('#scan-box').isHidden());
  assert.equal(new URL(page.url()).pathname, '/links');
  assert.deepEqual(context.faults, []);
  await context.close();
});

test('a photo of a label, and a photo without one', async () => {
  const { context, page, scan, said } = await look_for_links('phone', camera(film('empty.y4m', [null])));
  await scan.click();
  made_by('qrencode', ['-o', 'label.png', '-s', '24', 'https://site.example/link?id=W-11']); // far larger than what is sent
  made_by('qrencode', ['-o', 'other.png', 'nothing we know']);
  const photo = page.locator('#scan-photo');
  await photo.setInputFiles(join(folder, 'other.png'));
  await said.filter({ hasText: 'nothing we know' }).waitFor();
  await photo.setInputFiles({ name: 'grey.png', mimeType: 'image/png', buffer: Buffer.from('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==', 'base64') });
  await said.filter({ hasText: 'No code can be read in this photo' }).waitFor();
  await photo.setInputFiles({ name: 'text.png', mimeType: 'image/png', buffer: Buffer.from('no picture at all') });
  await said.filter({ hasText: 'cannot read this file as a picture' }).waitFor();
  await photo.setInputFiles(join(folder, 'label.png'));
  await page.waitForURL((address) => address.pathname === '/link' && address.searchParams.get('id') === 'W-11');
  await context.close();
});

test('a photo of a certificate leads to its link', async () => {
  const name = join('demo.guidepin-package', 'certificates-east-shed.pdf');
  const words = made_by('pdftotext', ['-f', '2', '-l', '2', name, '-'], { encoding: 'utf8' });
  made_by('pdftoppm', ['-r', '150', '-png', '-f', '2', '-l', '2', '-singlefile', name, 'certificate']);
  const { context, page, scan } = await look_for_links('desktop', camera(film('empty.y4m', [null])));
  await scan.click();
  await page.locator('#scan-photo').setInputFiles(join(folder, 'certificate.png'));
  await page.waitForURL((address) => address.pathname === '/link');
  const id = new URL(page.url()).searchParams.get('id');
  assert.ok(words.includes(id), `the certificate names ${id}`);
  await context.close();
});

test('where a page gets no camera, the button asks for a photo', async () => {
  const { context, page } = await look_for_links('phone', []);
  // As in a page that came without TLS from another machine.
  await page.addInitScript(() => Object.defineProperty(Navigator.prototype, 'mediaDevices', { get: () => undefined }));
  await page.reload();
  const [chooser] = await Promise.all([page.waitForEvent('filechooser'), page.getByRole('button', { name: 'Scan a code' }).click()]);
  made_by('qrencode', ['-o', 'label.png', '-s', '6', 'n-07']);
  await chooser.setFiles(join(folder, 'label.png'));
  await page.waitForURL((address) => address.pathname === '/link' && address.searchParams.get('id') === 'N-07');
  await context.close();

  // A camera that is refused or missing says so and leaves the way by photo.
  const second = await look_for_links('phone', []);
  await second.scan.click();
  await second.said.filter({ hasText: 'take a photo of the code' }).waitFor();
  assert.ok(await second.page.locator('#scan-photo').isVisible());
  await second.context.close();
});

test('what no page sends is refused in words: sizes that do not hold, nothing, too much', async () => {
  const context = await device(server);
  const token = (await (await context.request.get('/token')).text()).trim();
  const send = async (fields) => {
    const answer = await context.request.post('/links/code', { headers: { 'X-Guidepin-Token': token }, multipart: fields });
    return { status: answer.status(), text: await answer.text() };
  };
  const picture = (bytes) => ({ name: 'grey', mimeType: 'application/octet-stream', buffer: Buffer.alloc(bytes, 7) });
  for (const [what, fields] of Object.entries({
    'no picture': { width: '10', height: '10' },
    'an empty one': { width: '0', height: '0', picture: picture(0) },
    'too few bytes': { width: '100', height: '100', picture: picture(9999) },
    'too many bytes': { width: '100', height: '100', picture: picture(10001) },
    'no numbers': { width: 'x', height: '', picture: picture(100) },
    'sizes below zero': { width: '-10', height: '-10', picture: picture(100) },
    'sizes whose product is lost': { width: '4294967296', height: '4294967296', picture: picture(0) },
    'a picture too large': { width: '2001', height: '2001', picture: picture(2001 * 2001) },
  })) {
    const { status, text } = await send(fields);
    assert.equal(status, 422, `${what}: ${text}`);
    assert.match(text, /picture/, what);
  }
  assert.equal((await send({ width: '4500', height: '4000', picture: picture(18000000) })).status, 413, 'larger than anything the workbench takes');
  const grey = await send({ width: '100', height: '100', picture: picture(10000) });
  assert.deepEqual([grey.status, JSON.parse(grey.text)], [200, {}], 'nothing is found in a grey picture, and the server goes on');
  await context.close();
  assert.equal(server.complaint(), '');
});

test('the server ends well after all that', () => server.stop());
