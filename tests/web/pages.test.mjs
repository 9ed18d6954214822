// SPDX-License-Identifier: Apache-2.0
// Every page of the registry, on a phone and a desktop, light and dark.
// Oracles: axe-core (WCAG rules of an independent program), html-validate (the HTML standard), the browser's own layout and network figures.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { mkdirSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import axe from 'axe-core';
import { HtmlValidate } from 'html-validate';
import { faults_of_text, ids_of_the_program, text_of_page } from './plain_words.mjs';
import { clean_up, demo_job, device, serve, sizes, workplace } from './workbench.mjs';

const largest_page = 150 * 1000; // bytes over the wire with an empty cache
const smallest_target = 44;
const pictures = process.env.GUIDEPIN_SCREENSHOTS;

let server;
let visits = [];
before(async () => {
  const folder = workplace();
  server = await serve(folder, demo_job(folder));
  visits = await places();
});
after(clean_up);

/** Every page of the registry by its example, then the states that a page of the demo can be in. */
async function places() {
  const context = await device(server);
  const token = await (await context.request.get('/token')).text();
  const { pages } = await (await context.request.get('/pages.json')).json();
  assert.ok(pages.length > 25, 'the registry lists too few pages to be whole');
  const looked = await context.request.post('/bring-in/look', {
    headers: { 'X-Guidepin-Token': token.trim() },
    multipart: { file: { name: 'other layout.csv', mimeType: 'text/csv', buffer: Buffer.from('Cable;Fibre;Wave;Loss\nN-07;1;850;0,31\nN-07;2;850;0,29\n') } },
  });
  const waiting = new URL(looked.url()).search;
  const photo = await context.request.post('/link/note', {
    headers: { 'X-Guidepin-Token': token.trim() },
    multipart: {
      id: 'N-07', key: 'aa01', text: 'A scratch across position 5',
      photo: 'data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==',
    },
  });
  const picture = (await photo.text()).match(/\/photo\?note=[0-9a-f]+/)[0];
  const list = [];
  for (const page of pages.filter((one) => one.method === 'GET')) {
    if (page.path === '/bring-in/file') list.push({ name: 'look-before', path: page.path + waiting, html: true });
    else if (page.path === '/photo') list.push({ name: 'photo', path: picture, html: false });
    else if (page.path === '/set-up/card') list.push({ name: 'set-up-card', path: page.path + page.example, html: false });
    else if (page.path === '/package') list.push({ name: 'package', path: '/package?file=summary.pdf', html: false });
    else if (page.path === '/token' || page.path.endsWith('.json')) list.push({ name: page.path.slice(1), path: page.path, html: false });
    else list.push({ name: page.path === '/' ? 'today' : page.path.slice(1).replaceAll('/', '-'), path: page.path + page.example, html: true });
  }
  for (const [name, path] of [
    ['links-fail', '/links?state=fail&sort=margin'],
    ['links-none', '/links?find=no+such+link'],
    ['links-filtered', '/links?reference=R-3&margin=0.5'],
    ['link-pass', '/link?id=N-01'],
    ['link-crossed', '/link?id=E-06'],
    ['link-single-mode', '/link?id=W-11'],
    ['reference-drifted', '/reference?id=R-3'],
    ['site-map-zone', '/site-map?zone=North+quay'],
    ['hand-over-look', '/hand-over?look=summary.pdf'],
  ]) list.push({ name, path, html: true });
  await context.close();
  return list;
}

/** Things to touch that are smaller than a gloved finger; a link inside a sentence is text. */
function small_targets(least) {
  const small = [];
  for (const one of document.querySelectorAll('a[href],button,input:not([type=hidden]),select,textarea,summary')) {
    // What is ticked is touched by its label.
    const box = (one.type === 'checkbox' || one.type === 'radio' ? one.closest('label') ?? one : one).getBoundingClientRect();
    const style = getComputedStyle(one);
    if (!box.width || !box.height || style.visibility === 'hidden' || one.classList.contains('skip')) continue;
    if (one.closest('details:not([open])') && one.tagName !== 'SUMMARY') continue;
    const words = one.parentElement.textContent.trim() !== one.textContent.trim();
    if (one.tagName === 'A' && style.display === 'inline' && words && one.closest('p')) continue;
    if (box.height < least - 0.5 || box.width < least - 0.5) {
      small.push(`${one.tagName.toLowerCase()} "${(one.textContent || one.name).trim().slice(0, 40)}" ${Math.round(box.width)} x ${Math.round(box.height)}`);
    }
  }
  return small;
}

/** What reaches past the window's right edge without scrolling by itself. */
function overflowing() {
  const width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth <= width) return [];
  return [...document.querySelectorAll('body *')].filter((one) => one.getBoundingClientRect().right > width + 1 && !one.closest('.scroll,.wide,.menu,pre'))
    .map((one) => `${one.tagName.toLowerCase()}.${one.className.baseVal ?? one.className} reaches ${Math.round(one.getBoundingClientRect().right)} of ${width}`).slice(0, 5);
}

async function look(size) {
  const faults = [];
  if (pictures) mkdirSync(pictures, { recursive: true });
  for (const { name, path, html } of visits) {
    const context = await device(server, size, { colorScheme: 'light' });
    const say = (words) => faults.push(`${name} (${path}): ${words}`);
    if (!html) {
      const answer = await context.request.get(path);
      if (answer.status() !== 200) say(`answered ${answer.status()}`);
      await context.close();
      continue;
    }
    const page = await context.newPage();
    const wire = await context.newCDPSession(page);
    let weight = 0;
    await wire.send('Network.enable');
    wire.on('Network.loadingFinished', (event) => { weight += event.encodedDataLength; });
    const answer = await page.goto(path, { waitUntil: 'load' });
    if (answer.status() !== 200) say(`answered ${answer.status()}`);
    await page.waitForTimeout(30);
    if (weight < 1000) say('nothing was weighed');
    if (weight > largest_page && name !== 'hand-over-look') say(`weighs ${Math.round(weight / 1000)} kB, at most ${largest_page / 1000} kB`);
    const shots = async (state) => {
      for (const theme of pictures ? ['light', 'dark'] : []) {
        await page.emulateMedia({ colorScheme: theme });
        await page.screenshot({ path: `${pictures}/${name}-${size}-${theme}${state}.png`, fullPage: true });
      }
    };
    await shots('');
    for (const opened of [false, true]) {
      if (opened) await page.evaluate(() => document.querySelectorAll('details').forEach((one) => { one.open = true; }));
      for (const one of await page.evaluate(overflowing)) say(`overflows: ${one}`);
      for (const one of await page.evaluate(small_targets, smallest_target)) say(`too small to touch: ${one}`);
    }
    if (process.env.GUIDEPIN_OPENED) await shots('-opened');
    await page.evaluate(axe.source);
    for (const theme of ['light', 'dark']) {
      await page.emulateMedia({ colorScheme: theme });
      const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'], iframes: false }));
      if (found.passes.length < 10) say(`only ${found.passes.length} rules were looked at`);
      for (const rule of found.violations) {
        say(`${theme}: ${rule.id} (${rule.impact}): ${rule.help}: ${rule.nodes.slice(0, 3).map((node) => `${node.target.join(' ')} ${node.any[0]?.message ?? ''}`).join(' | ')}`);
      }
    }
    for (const one of context.faults) say(one);
    await context.close();
  }
  assert.deepEqual(faults, []);
}

describe('each page, light and dark', { concurrency: 2 }, () => {
  for (const size of Object.keys(sizes)) test(size, () => look(size));
});

test('each page is valid HTML and in one language, one title, one h1', async () => {
  const judge = new HtmlValidate({
    extends: ['html-validate:standard'],
    rules: {
      'void-style': 'off', // a matter of taste, and SVG inside is written as XML
      'no-trailing-whitespace': 'off',
      'long-title': 'off',
      'attribute-boolean-style': 'off',
      'no-inline-style': 'error',
      'no-raw-characters': 'error',
    },
  });
  const faults = [];
  const context = await device(server);
  for (const { name, path } of visits.filter((one) => one.html)) {
    const text = await (await context.request.get(path)).text();
    const report = await judge.validateString(text);
    for (const result of report.results) {
      for (const message of result.messages.filter((one) => one.severity === 2)) {
        faults.push(`${name}: ${message.ruleId} at ${message.line}:${message.column}: ${message.message}`);
      }
    }
    if ((text.match(/<h1/g) || []).length !== 1) faults.push(`${name}: ${(text.match(/<h1/g) || []).length} headings of the first order`);
  }
  await context.close();
  assert.deepEqual(faults, []);
});

test('no page shows a command, a file of the source, an id of the program or a time as files write it', async () => {
  const ids = ids_of_the_program();
  assert.ok(ids.size > 150, `only ${ids.size} ids were found in the source`);
  const faults = [];
  const context = await device(server);
  const page = await context.newPage();
  for (const { name, path } of visits.filter((one) => one.html)) {
    await page.goto(path, { waitUntil: 'load' });
    for (const fault of faults_of_text(await page.evaluate(text_of_page), ids)) faults.push(`${name}: ${fault}`);
  }
  await context.close();
  assert.deepEqual(faults, []);
});

test('no paper of the demo shows one either', () => {
  const ids = ids_of_the_program();
  const folder = join(process.env.GUIDEPIN_DEMO, 'package');
  const papers = readdirSync(folder, { recursive: true }).filter((name) => name.endsWith('.pdf'));
  assert.ok(papers.length > 5, `only ${papers.length} papers in the package`);
  const faults = [];
  for (const paper of papers) {
    const read = spawnSync('pdftotext', ['-raw', join(folder, paper), '-'], { encoding: 'utf8', maxBuffer: 1 << 26 });
    assert.equal(read.status, 0, `pdftotext cannot read ${paper}: ${read.stderr}`);
    for (const fault of faults_of_text(read.stdout, ids)) faults.push(`${paper}: ${fault}`);
  }
  assert.deepEqual(faults, []);
});
