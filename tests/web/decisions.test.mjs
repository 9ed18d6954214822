// SPDX-License-Identifier: Apache-2.0
// What a person decides in the browser and answers for by name: a finding may stand, a refused item is used all the same.
// Oracle: the command line over the same records, and the rules of docs/methods/audit.md and setup.md.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, test } from 'node:test';
import { clean_up, demo_job, device, run, serve, sizes, until, workplace } from './workbench.mjs';

after(clean_up);
const token_of = async (context) => (await (await context.request.get('/token')).text()).trim();

/** A finding of the demo on one link alone, whose size another test changes. */
const about = { link: 'N-07', words: /dirty or damaged end face/ };

for (const size of Object.keys(sizes)) {
  test(`a finding is acknowledged with a reason, stays with name and time, and asks again when its evidence changes: ${size}`, async () => {
    const folder = workplace();
    const server = await serve(folder, demo_job(folder));
    const context = await device(server, size);
    const page = await context.newPage();
    await page.goto('/findings');
    const card = page.locator('article.finding', { hasText: about.words }).filter({ hasText: about.link });
    await card.waitFor();
    const open = Number(await page.locator('#findings .figure strong').innerText());
    assert.ok(open > 1);
    const id = (await card.getAttribute('id')).replace(/^f-/, '');

    // No reason, no acknowledgement: neither by the page nor past it.
    await card.locator('summary', { hasText: 'Acknowledge' }).click();
    const reason = card.locator('[name=reason]');
    await card.getByRole('button', { name: 'Acknowledge', exact: true }).click();
    assert.ok(await reason.evaluate((field) => field.validity.valueMissing), 'the page asks for a reason');
    assert.equal(new URL(page.url()).pathname, '/findings');
    const token = await token_of(context);
    for (const words of ['', '   ', '\n\t']) {
      const answer = await context.request.post('/findings/acknowledge', { multipart: { token, id, reason: words }, maxRedirects: 0 });
      assert.equal(answer.status(), 422, `"${words}" is no reason`);
    }
    assert.equal(Number(await page.locator('#findings .figure strong').innerText()), open);

    await reason.fill('cleaned; a new reading follows <b>tomorrow</b>');
    await card.getByRole('button', { name: 'Acknowledge', exact: true }).click();
    await card.filter({ hasText: 'Acknowledged by Test Person' }).waitFor();
    const words = await card.innerText();
    assert.match(words, /Acknowledged by Test Person, .*\d{4}.*\d\d:\d\d.*: cleaned; a new reading follows <b>tomorrow<\/b>/);
    assert.equal(Number(await page.locator('#findings .figure strong').innerText()), open - 1);
    await page.reload();
    assert.match(await card.innerText(), about.words, 'what is acknowledged stays in the list');
    assert.match(run(folder, ['findings', 'demo.guidepin'], [0, 1]), new RegExp(`${id.slice(0, 8)}[^]*Test Person[^]*cleaned; a new reading follows`));

    // The same place reads far worse: what was seen is no longer what is there.
    run(folder, ['export', 'demo.guidepin', 'readings', '--out', 'out.csv']);
    const [header, ...rows] = readFileSync(join(folder, 'out.csv'), 'utf8').trim().split('\n');
    const names = header.split(',');
    const at = (name) => names.indexOf(name);
    const again = rows.map((row) => row.split(',')).filter((row) => row[at('link')] === about.link).map((row) => {
      const loss = Number(row[at('attenuation_db')]);
      if (loss > 1) row[at('attenuation_db')] = (loss + 1.2).toFixed(3);
      row[at('taken_at')] = row[at('taken_at')].replace(/T\d\d:\d\d/, 'T17:30');
      return row.join(',');
    });
    assert.ok(again.length >= 12);
    await page.goto('/bring-in');
    await page.locator('#readings input[type=file]').setInputFiles({ name: 'again.csv', mimeType: 'text/csv', buffer: Buffer.from(`${header}\n${again.join('\n')}\n`) });
    await page.locator('#readings').getByRole('button', { name: 'Preview' }).click();
    await page.getByRole('button', { name: 'Bring it in' }).click();
    await page.waitForURL((address) => address.pathname === '/');
    await page.goto('/findings');
    await card.filter({ hasText: 'Open again' }).waitFor();
    assert.match(await card.innerText(), /Acknowledged by Test Person[^]*Open again: [^]*dB/);
    await until('it counts as open again', async () => Number(await page.locator('#findings .figure strong').innerText()) === open);

    // Seen as it is now, then taken back: both with a reason.
    await card.locator('summary', { hasText: 'Acknowledge the changed finding' }).click();
    await reason.fill('seen on Friday');
    await card.getByRole('button', { name: 'Acknowledge', exact: true }).click();
    await card.filter({ hasText: 'seen on Friday' }).waitFor();
    assert.doesNotMatch(await card.innerText(), /Open again/);
    await card.locator('summary', { hasText: 'Withdraw the acknowledgement' }).click();
    await reason.fill('it was the wrong link');
    await card.getByRole('button', { name: 'Withdraw', exact: true }).click();
    await until('it is open', async () => Number(await page.locator('#findings .figure strong').innerText()) === open);
    assert.deepEqual(context.faults, []);
    await context.close();
    await server.stop();
  });
}


test('a reason that is being typed is not lost when another device writes, and what is open stays open', async () => {
  const folder = workplace();
  const server = await serve(folder, demo_job(folder));
  const context = await device(server, 'phone');
  const page = await context.newPage();
  await page.goto('/findings');
  const card = page.locator('article.finding', { hasText: about.words }).filter({ hasText: about.link });
  await card.locator('summary', { hasText: 'Acknowledge' }).click();
  const other = page.locator('article.finding', { hasText: 'reference drift' });
  await other.locator('summary', { hasText: 'more links' }).click();
  const reason = card.locator('[name=reason]');
  const token = await token_of(context);
  const write = async (key) => {
    const refreshed = page.waitForResponse((answer) => answer.url().includes('/findings?page='));
    assert.ok((await context.request.post('/link/note', { multipart: { token, id: 'N-01', key, text: `note ${key}` } })).ok());
    await refreshed;
    await page.waitForTimeout(300);
  };
  await page.evaluate(() => { document.querySelector('#findings').mark = 'the part that was there first'; });
  const first = () => page.evaluate(() => document.querySelector('#findings').mark === 'the part that was there first');
  await reason.fill('half a sen');
  await write('f001');
  assert.equal(await reason.inputValue(), 'half a sen');
  assert.ok(await reason.isVisible());
  assert.ok(await first(), 'the refresh waits');
  await reason.fill('');
  await page.locator('h1').click();
  await until('the refresh comes when the form is left', async () => !(await first()));
  assert.ok(await reason.isVisible(), 'the form that was open is open');
  assert.ok(await other.locator('details', { hasText: 'more links' }).evaluate((fold) => fold.open));
  await write('f002');
  assert.ok(await reason.isVisible());
  assert.deepEqual(context.faults, []);
  await context.close();
  await server.stop();
});

test('an item that the register refuses is used for a reference all the same, by a lead and with a reason', async () => {
  const folder = workplace();
  const server = await serve(folder, demo_job(folder));
  const lead = await device(server, 'phone');
  const page = await lead.newPage();
  const token = await token_of(lead);
  // The launch cord's far end is found dirty on the day of the reference.
  await lead.request.post('/kit/inspection', { multipart: { token, item: 'L-1', end: 'far', 'position-1': '7', 'zone-1': 'A', 'what-1': 'defect', 'size-1': '9', key: 'dd01' } });
  const item = () => JSON.parse(run(folder, ['kit', 'demo.guidepin', '--json'], [0, 1])).items.find((one) => one.item === 'L-1');
  assert.equal(item().fitness, 'refused');

  const kit = { source: 'SRC-1', meter: 'MTR-1', launch: 'L-1', tail: 'T-1', substitution: 'X-1' };
  const powers = Array.from({ length: 12 }, (_, i) => `R-77,${i + 1},850,-20.${40 + i},${new Date().toISOString().slice(0, 19)}Z`);
  const file = { name: 'r-77.csv', mimeType: 'text/csv', buffer: Buffer.from(`reference,position,wavelength_nm,power_dbm,taken_at\n${powers.join('\n')}\n`) };
  const fill = async () => {
    await page.goto('/reference#take');
    const take = page.locator('#take');
    await until('open', () => take.evaluate((one) => one.open));
    const form = take.locator('form[action="/reference/take"]');
    for (const [name, value] of Object.entries(kit)) await form.locator(`[name=${name}]`).selectOption(value);
    await form.locator('input[type=file]').setInputFiles(file);
    return form;
  };
  let form = await fill();
  const refused = form.locator('li', { hasText: 'L-1' }).filter({ hasText: 'end face' });
  assert.ok(await refused.first().isVisible(), 'the page says beforehand what is refused and why');
  await form.getByRole('button', { name: 'Bring in the reference' }).click();
  await page.locator('[role=alert]').filter({ hasText: 'L-1' }).waitFor();
  assert.match(await page.locator('[role=alert]').innerText(), /L-1[^]*end face/);
  await page.goto('/reference');
  assert.doesNotMatch(await page.locator('main').innerText(), /R-77/, 'nothing was kept');

  form = await fill();
  // What is refused today for another reason (a calibration that ended) is decided one by one.
  const reasons = form.locator('[name=override-reason]');
  const items = form.locator('[name=override-item]');
  for (let i = 0; i < await reasons.count(); ++i) {
    const id = await items.nth(i).inputValue();
    if (Object.values(kit).includes(id)) await reasons.nth(i).fill(`${id} is taken until noon`);
  }
  await form.getByRole('button', { name: 'Bring in the reference' }).click();
  await page.waitForURL((address) => address.pathname === '/reference' && address.searchParams.get('id') === 'R-77');
  const decided = item().overrides.find((one) => one.about.includes('end-face'));
  assert.equal(decided.reason, 'L-1 is taken until noon');
  assert.equal(decided.person, 'Test Person');
  await page.goto('/kit/item?id=L-1');
  assert.match(await page.locator('#item').innerText(), /Test Person: L-1 is taken until noon/);
  assert.match(run(folder, ['check', 'demo.guidepin']), /./, 'the records hold');

  // A technician sees why, and cannot decide: not by the page, not past it.
  await lead.request.post('/people', { multipart: { token, name: 'Ines', role: 'technician' } });
  const code = (await (await lead.request.post('/people/code', { multipart: { token, name: 'Ines' } })).text()).match(/id="code">([0-9 ]+)</)[1];
  const technician = await device(server, 'phone', { stranger: true });
  const theirs = await technician.newPage();
  await theirs.goto('/pair');
  await theirs.locator('[name=code]').fill(code);
  await theirs.getByRole('button', { name: 'Pair' }).click();
  await theirs.waitForURL((address) => address.pathname === '/');
  await lead.request.post('/kit/inspection', { multipart: { token, item: 'T-1', end: 'near', 'position-1': '7', 'zone-1': 'A', 'what-1': 'defect', 'size-1': '9', key: 'dd02' } });
  await theirs.goto('/reference#take');
  await until('open', () => theirs.locator('#take').evaluate((one) => one.open));
  assert.match(await theirs.locator('#take').innerText(), /T-1[^]*end face[^]*A lead may use it anyway/);
  assert.equal(await theirs.locator('[name=override-reason]').count(), 0);
  const forced = await technician.request.post('/reference/take', {
    multipart: { token: await token_of(technician), ...kit, 'override-item': 'T-1', 'override-reason': 'I say so', file: { ...file, buffer: Buffer.from(file.buffer.toString().replaceAll('R-77', 'R-78')) } },
  });
  assert.equal(forced.status(), 409);
  assert.match(await forced.text(), /a lead decides/);
  await theirs.close();
  await technician.close();
  await lead.close();
  await server.stop();
  assert.ok(!JSON.parse(run(folder, ['kit', 'demo.guidepin', '--json'], [0, 1])).items.find((one) => one.item === 'T-1').overrides.length);
});

for (const size of Object.keys(sizes)) {
  test(`a lead relies on a reference that the watch doubts, with a reason, and takes it back; a reviewer may not: ${size}`, async () => {
    const folder = workplace();
    const server = await serve(folder, demo_job(folder));
    const context = await device(server, size);
    const page = await context.newPage();
    await page.goto('/findings');
    await page.locator('article.finding', { hasText: 'reference drift' }).getByRole('link', { name: 'Rely on R-3 anyway' }).click();
    await page.waitForURL(/reference\?id=R-3#rely/);
    const form = page.locator('#rely');
    await until('the form is open', () => form.evaluate((one) => one.open));
    await form.getByRole('button', { name: 'Rely on it' }).click();
    assert.ok(await form.locator('[name=reason]').evaluate((field) => field.validity.valueMissing), 'the page asks for a reason');
    const token = await token_of(context);
    const post = (fields) => context.request.post('/reference/rely', { multipart: { token, id: 'R-3', ...fields }, maxRedirects: 0 });
    assert.equal((await post({ reason: ' \n' })).status(), 422, 'no reason past the page either');
    assert.equal((await post({ id: 'R-1', reason: 'good' })).status(), 409, 'nothing doubts R-1');
    assert.equal((await post({ id: 'R-99', reason: 'good' })).status(), 404);
    assert.doesNotMatch(run(folder, ['watch', 'demo.guidepin', '--reference', 'R-3'], [0, 1]), /Relied on/);

    await form.locator('[name=reason]').fill('the source was seen <i>steady</i> that noon');
    await form.getByRole('button', { name: 'Rely on it' }).click();
    await page.locator('#reference', { hasText: /Relied on by Test Person since .*: the source was seen <i>steady<\/i> that noon/ }).waitFor();
    assert.match(run(folder, ['watch', 'demo.guidepin', '--reference', 'R-3'], [0, 1]), /Relied on by Test Person since .*the source was seen <i>steady<\/i> that noon/);
    await page.goto('/findings');
    await until('the findings have heard of it', async () => {
      await page.reload();
      return await page.getByRole('link', { name: 'Rely on R-3 anyway' }).count() === 0;
    });

    await page.goto('/reference?id=R-3#rely');
    await until('the form is open', () => form.evaluate((one) => one.open));
    await form.locator('[name=reason]').fill('it was another source');
    await form.getByRole('button', { name: 'No longer rely on it' }).click();
    await until('it is doubted again', async () => !/Relied on/.test(await page.locator('#reference').innerText()));
    assert.doesNotMatch(run(folder, ['watch', 'demo.guidepin', '--reference', 'R-3'], [0, 1]), /Relied on/);
    assert.equal((await post({ reason: 'again', undo: '1' })).status(), 409, 'there is no word to take back');

    await context.request.post('/people', { multipart: { token, name: 'Ines', role: 'reviewer' } });
    const code = (await (await context.request.post('/people/code', { multipart: { token, name: 'Ines' } })).text()).match(/id="code">([0-9 ]+)</)[1];
    const reviewer = await device(server, size, { stranger: true });
    const theirs = await reviewer.newPage();
    await theirs.goto('/pair');
    await theirs.locator('[name=code]').fill(code);
    await theirs.getByRole('button', { name: 'Pair' }).click();
    await theirs.waitForURL((address) => address.pathname === '/');
    await theirs.goto('/reference?id=R-3');
    assert.equal(await theirs.locator('#rely').count(), 0);
    assert.equal((await reviewer.request.post('/reference/rely', { multipart: { token: await token_of(reviewer), id: 'R-3', reason: 'fine' }, maxRedirects: 0 })).status(), 403);
    await reviewer.close();
    await context.close();
    await server.stop();
  });
}
