// SPDX-License-Identifier: Apache-2.0
// install.mjs NPM: what package-lock.json names, when it is not there yet.
import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const folder = dirname(fileURLToPath(import.meta.url));
const lock = readFileSync(join(folder, 'package-lock.json'), 'utf8');
const stamp = join(folder, 'node_modules', '.installed-lock');
if (existsSync(stamp) && readFileSync(stamp, 'utf8') === lock) {
  console.log('packages are there');
} else {
  const done = spawnSync(process.argv[2] || 'npm', ['ci', '--no-audit', '--no-fund', '--ignore-scripts'], { cwd: folder, stdio: 'inherit' });
  if (done.status !== 0) process.exit(done.status ?? 1);
  writeFileSync(stamp, lock);
}
