// SPDX-License-Identifier: Apache-2.0
// The whole job of the demo through the pages alone: from an empty job to the package.
// Oracle: the same files taken in at the command line by demo/certify; the verdict of every link has to be the same.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { clean_up, demo_job, device, root, run, serve, until, workplace } from './workbench.mjs';

after(clean_up);
const site = join(root, 'demo/site');
const kits = {
  'R-1': ['SRC-1', 'MTR-1', 'L-1', 'T-1', 'X-1'], 'R-2': ['SRC-2', 'MTR-2', 'L-2', 'T-2', 'X-2'],
  'R-3': ['SRC-1', 'MTR-1', 'L-1', 'T-1', 'X-1'], 'R-4': ['SRC-2', 'MTR-2', 'L-2', 'T-2', 'X-2'], 'R-5': ['SRC-3', 'MTR-3', 'L-3', 'T-3', 'X-3'],
  'R-6': ['SRC-1', 'MTR-1', 'L-1', 'T-1', 'X-1'], 'R-7': ['SRC-1', 'MTR-1', 'L-4', 'T-4', ''], 'R-8': ['SRC-3', 'MTR-3', 'L-3', 'T-3', 'X-3'],
  'R-9': ['SRC-4', 'MTR-4', 'L-5', 'T-5', ''],
};
const days = [['R-1', 'R-2'], ['R-3', 'R-4', 'R-5'], ['R-6', 'R-7', 'R-8', 'R-9']];

/** State and reason of each link, as the command line says it. */
function verdicts(folder, job) {
  const answer = JSON.parse(run(folder, ['verdicts', job, '--all', '--json'], [0, 1]));
  return Object.fromEntries(answer.links.map((link) => [link.link, [link.state, link.worst_margin_db, link.reason]]));
}

async function do_now(page) {
  await page.goto('/');
  await page.locator('.now .button').click();
}

async function take_reference(page, day, id) {
  await page.goto('/reference#take');
  const box = page.locator('#take');
  if (!(await box.evaluate((one) => one.open))) await box.locator('> summary').click();
  const form = box.locator('form[action="/reference/take"]');
  const [source, meter, launch, tail, substitution] = kits[id];
  for (const [name, value] of Object.entries({ source, meter, launch, tail, substitution })) await form.locator(`[name=${name}]`).selectOption(value);
  await form.locator('input[type=file]').setInputFiles(join(site, `references-day${day}-${id.toLowerCase()}.csv`));
  await form.getByRole('button', { name: 'Bring in the reference' }).click();
  await page.waitForURL(/reference\?id=/);
  assert.match(await page.locator('h2').first().innerText(), new RegExp(id));
}

async function check_cords(page, day) {
  await page.goto('/reference#check');
  const box = page.locator('#check');
  if (!(await box.evaluate((one) => one.open))) await box.locator('> summary').click();
  await box.locator('input[type=file]').setInputFiles(join(site, `cord-checks-day${day}.csv`));
  await box.getByRole('button', { name: 'Bring in the check' }).click();
  await page.waitForURL(/reference\?id=/);
}

async function bring_readings(page, day) {
  await page.goto('/bring-in');
  await page.locator('#readings input[type=file]').setInputFiles(join(site, `readings-day${day}.csv`));
  await page.locator('#readings').getByRole('button', { name: 'Preview' }).click();
  await page.waitForURL(/bring-in\/file/);
  const rows = readFileSync(join(site, `readings-day${day}.csv`), 'utf8').trim().split('\n').length - 1;
  // What was seen before it counts is what the file holds.
  assert.match(await page.locator('.facts').first().innerText(), new RegExp(`Readings\\s+${rows}\\b`));
  await page.getByRole('button', { name: /^Bring (it in|in the rows that hold)$/ }).click();
  await page.waitForURL((address) => address.pathname === '/');
}

async function whole_day(size, upto) {
  const folder = workplace();
  run(folder, ['new', 'site.guidepin', '--sheet', join(root, 'demo/job.toml')]);
  const server = await serve(folder, 'site.guidepin');
  const tool = await device(server, size);
  const page = await tool.newPage();

  // An empty job says what it wants first.
  await do_now(page);
  await page.waitForURL(/bring-in/);
  await page.locator('#schedule input[type=file]').setInputFiles(join(site, 'schedule.csv'));
  await page.getByRole('button', { name: 'Bring in the schedule' }).click();
  await page.waitForURL(/links/);
  assert.match(await page.locator('#list').innerText(), /of 150/);
  await do_now(page);
  await page.waitForURL(/reference/);

  for (let day = 1; day <= upto; ++day) {
    for (const id of days[day - 1]) await take_reference(page, day, id);
    await check_cords(page, day);
    await bring_readings(page, day);
  }

  // Found by a part of its name, with one hand; then to the next one.
  await page.goto('/links');
  await page.locator('#find').fill('n-07');
  await until('the list shows one link', async () => (await page.locator('.links li').count()) === 1);
  await page.locator('.links a').first().click();
  await page.waitForURL(/link\?id=N-07/);
  assert.match(await page.locator('h1').innerText(), /N-07\s+fail/);
  await page.goto('/link?id=N-07');
  if (size === 'phone') {
    const wire = await tool.newCDPSession(page);
    const touch = (type, x) => wire.send('Input.dispatchTouchEvent', { type, touchPoints: type === 'touchEnd' ? [] : [{ x, y: 300 }] });
    await touch('touchStart', 300);
    for (const x of [260, 200, 140, 100]) await touch('touchMove', x);
    await touch('touchEnd', 100);
  } else {
    await page.keyboard.press('n');
  }
  await page.waitForURL(/link\?id=N-08/);

  // The package, looked at in the page.
  await page.goto('/hand-over');
  await page.getByRole('button', { name: 'Build the package' }).click();
  await page.waitForURL(/hand-over/);
  await until('the package is there', async () => {
    const text = await page.locator('#hand-over').innerText();
    return text.includes('summary.pdf') && !text.includes('Being built');
  }, 150000);
  await page.locator('#files a.file', { hasText: 'summary.pdf' }).click();
  const shown = await page.locator('object').getAttribute('data');
  // Most phones show no PDF inside a page: the ways out are there in any case.
  for (const words of ['Open it in a new tab', 'Save the file']) {
    const way = page.locator('#look').getByRole('link', { name: words });
    assert.ok(await way.isVisible(), words);
    assert.equal(await way.getAttribute('href'), shown);
  }
  const paper = await tool.request.get(shown);
  assert.equal(paper.headers()['content-type'], 'application/pdf');
  assert.equal((await paper.body()).subarray(0, 5).toString(), '%PDF-');
  // Headless Chromium answers a framed PDF with its own viewer, whose inside is not ours to judge.
  assert.deepEqual(tool.faults.filter((one) => !one.includes('chrome-extension:')), []);
  await tool.close();
  await server.stop();
  return folder;
}

test('the whole job on a desktop: every verdict as at the command line', async () => {
  const folder = await whole_day('desktop', 3);
  const made = verdicts(folder, 'site.guidepin');
  const other = workplace();
  const wanted = verdicts(other, demo_job(other));
  assert.equal(Object.keys(wanted).length, 150);
  assert.deepEqual(made, wanted);
});

test('the first day on a phone', async () => {
  const folder = await whole_day('phone', 1);
  const made = verdicts(folder, 'site.guidepin');
  assert.equal(made['N-07'][0], 'fail');
  assert.equal(made['N-01'][0], 'pass');
  assert.equal(made['E-01'][0], 'open');
});
