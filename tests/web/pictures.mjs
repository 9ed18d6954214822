// SPDX-License-Identifier: Apache-2.0
// pictures.mjs INSTANT FOLDER: the README's pictures, by tools/pictures.
import { join } from 'node:path';
import { clean_up, demo_job, device, serve, workplace } from './workbench.mjs';

const [instant, into] = process.argv.slice(2);
// Where a phone's picture says more, it is one; each is cut where its first screen ends or a part of the page does.
const wanted = [
  { name: 'today', path: '/', viewport: { width: 1100, height: 700 } },
  { name: 'set-up', path: '/set-up?group=1', viewport: { width: 1100, height: 1750 } },
  { name: 'one-link', path: '/link?id=N-07', viewport: { width: 1100, height: 1180 } },
  { name: 'site-map', path: '/site-map', viewport: { width: 1100, height: 900 } },
  { name: 'one-link-phone', path: '/link?id=E-06', viewport: { width: 390, height: 844 } },
];
try {
  const folder = workplace();
  // What runs it under another clock does not pass an interrupt on: it ends with the clean-up.
  const server = await serve(folder, demo_job(folder), ['--operator', 'Ines'], ['faketime', instant.replace('T', ' ').replace('Z', '')]);
  for (const { name, path, viewport } of wanted) {
    const context = await device(server, 'desktop', { viewport, colorScheme: 'light' });
    const page = await context.newPage();
    await page.clock.setFixedTime(new Date(instant));
    await page.goto(path);
    await page.screenshot({ path: join(into, `${name}.png`) });
    if (context.faults.length) throw new Error(`${name}: ${context.faults.join('\n')}`);
    await context.close();
  }
} finally {
  await clean_up();
}
