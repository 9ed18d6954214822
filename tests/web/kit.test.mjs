// SPDX-License-Identifier: Apache-2.0
// The register of the kit in the browser: a technician's pin change and inspection, a lead's limits, decision and kit file.
// Oracle: the register as the command line prints it afterwards, and the rules of docs/methods/setup.md worked by hand.
import assert from 'node:assert/strict';
import { after, test } from 'node:test';
import { clean_up, demo_job, device, run, serve, sizes, until, workplace } from './workbench.mjs';

after(clean_up);

const cord = `[[cord]]
serial = "SPARE-1"
category = "OM4"
pins-near = "unpinned"
pins-far = "unpinned"
pins-exchangeable = "far"
`;

function item(folder, serial) {
  const { items } = JSON.parse(run(folder, ['kit', 'demo.guidepin', '--on', '2026-03-05', '--json'], [0, 1]));
  return items.find((one) => one.item === serial);
}

async function open(page, id) {
  const box = page.locator(`#${id}`);
  if (!(await box.evaluate((one) => one.open))) await box.locator('> summary').click();
  return box;
}

for (const size of Object.keys(sizes)) {
  test(`a cord comes, its pins are changed, it is inspected, refused and used all the same: ${size}`, async () => {
    const folder = workplace();
    const server = await serve(folder, demo_job(folder));
    const context = await device(server, size);
    const page = await context.newPage();

    await page.goto('/kit');
    await page.locator('summary', { hasText: 'Bring in a kit file' }).click();
    await page.locator('input[type=file]').setInputFiles({ name: 'crew.toml', mimeType: 'text/plain', buffer: Buffer.from(cord) });
    await page.getByRole('button', { name: 'Bring in the kit' }).click();
    await page.getByRole('link', { name: /SPARE-1/ }).click();
    await page.getByRole('heading', { level: 1, name: 'SPARE-1' }).waitFor();
    assert.match(await page.locator('.heading').innerText(), /fit/);

    // A pin is lost, then found.
    for (const [pins, words] of [['1', /refused/], ['2', /fit/]]) {
      const box = await open(page, 'pins');
      await box.locator('[name=end]').selectOption('far');
      await box.locator('[name=to]').selectOption('pinned');
      await box.locator('[name=pins]').fill(pins);
      await box.getByRole('button', { name: 'Save the pin change' }).click();
      await until(`${pins} pins are on the page`, async () => words.test(await page.locator('#item .heading').innerText())
        && (await page.locator('.notes').innerText()).includes(`${pins} pins counted`));
    }

    // A defect above 5 um in zone A of a multimode end is not allowed (IEC 61300-3-35, edition 2).
    const box = await open(page, 'inspect');
    await box.locator('[name=end]').selectOption('far');
    await box.locator('[name=position-1]').fill('7');
    await box.locator('[name=size-1]').fill('5,5');
    await box.locator('[name=more]').fill('7 B scratch 2\n8 B defect 1');
    await box.locator('[name=cleaned]').check();
    await box.getByRole('button', { name: 'Save the inspection' }).click();
    await until('the inspection is on the page', async () => (await page.locator('#item').innerText()).includes('position 7, zone A: 1 defect above 5 um'));
    assert.equal(item(folder, 'SPARE-1').fitness, 'refused');
    assert.equal(item(folder, 'SPARE-1').ends[1].pins, 'pinned');
    assert.equal(item(folder, 'SPARE-1').pin_changes, 1, 'counting again is no change');

    // The decision is offered where it is refused, and stands in the record with name and reason.
    await page.reload();
    const decision = await open(page, 'override');
    await decision.locator('[name=reason]').fill('only for the cord check');
    await decision.getByRole('button', { name: 'Use it anyway' }).click();
    await until('the decision is on the page', async () => (await page.locator('#item .reasons').innerText()).includes('Test Person: only for the cord check'));
    assert.equal(item(folder, 'SPARE-1').fitness, 'overridden');
    await page.reload();
    assert.equal(await page.locator('#override').count(), 0, 'nothing is left to override');

    // Limits of the register reach cords without limits of their own.
    await page.goto('/kit');
    await page.locator('summary', { hasText: 'Limits of the register' }).click();
    await page.locator('[name=matings]').fill('40');
    await page.locator('[name=warn-at]').fill('75');
    await page.getByRole('button', { name: 'Save the limits' }).click();
    await page.getByRole('link', { name: /SPARE-1/ }).waitFor();
    assert.equal(item(folder, 'SPARE-1').matings_limit, 40);

    assert.deepEqual(context.faults, []);
    await context.close();
    await server.stop();
  });
}

test('what is refused is told in words, and nothing is kept', async () => {
  const folder = workplace();
  const server = await serve(folder, demo_job(folder));
  const lead = await device(server);
  const token = (await (await lead.request.get('/token')).text()).trim();
  const before = run(folder, ['kit', 'demo.guidepin', '--on', '2026-03-05', '--json'], [0, 1]);
  const send = async (path, fields) => {
    const answer = await lead.request.post(path, { multipart: { token, ...fields } });
    return `${answer.status()} ${await answer.text()}`;
  };
  assert.match(await send('/kit/pins', { item: 'L-1', end: 'far', to: 'pinned', pins: '2', key: 'k1' }), /^409 [^]*not made for changing pins/);
  assert.match(await send('/kit/pins', { item: 'L-1', end: 'far', to: 'pinned', pins: 'two', key: 'k2' }), /^422 [^]*Count the pins/);
  assert.match(await send('/kit/inspection', { item: 'L-1', end: 'far', 'position-1': '13', 'zone-1': 'A', 'what-1': 'defect', 'size-1': '2', key: 'k3' }), /^422 [^]*no fibre at position 13/);
  assert.match(await send('/kit/inspection', { item: 'L-1', end: 'far', more: '3 A crack 2', key: 'k4' }), /^422 [^]*3 A scratch 2.5/);
  assert.match(await send('/kit/override', { item: 'L-1', reason: 'to be safe', key: 'k5' }), /^422 [^]*nothing to override/);
  assert.match(await send('/kit/leave', { item: 'L-1', action: 'remove', reason: ' ' }), /^422 [^]*say why/);
  assert.match(await send('/kit/limits', { matings: '-3' }), /^422 [^]*whole number/);
  assert.match(await send('/kit/add', { file: { name: '../../crew.toml', mimeType: 'text/plain', buffer: Buffer.from('[[cord]]\nserial = "A"\npins-near = "half"\n') } }), /^422 [^]*crew\.toml line/);
  assert.match(await send('/kit/leave', { item: 'NONE', action: 'remove', reason: 'x' }), /^404 /);
  await lead.close();
  await server.stop();
  assert.equal(run(folder, ['kit', 'demo.guidepin', '--on', '2026-03-05', '--json'], [0, 1]), before);
});
