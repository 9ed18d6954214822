// SPDX-License-Identifier: Apache-2.0
// Finds what a person who reads a page or a paper cannot know: ids of the program, its options and commands, files of its source, times as files write them.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { root } from './workbench.mjs';

/** English and the trade write these with a hyphen too. */
const words_of_people = new Set(['set-up', 'single-mode', 'cross-section', 'no-break', 'round-trip', 'worst-case', 'two-way']);

/** Every id in the rooms that judge and plan: a literal of small letters, digits and hyphens, in a C++ file outside the command line and the workbench. */
export function ids_of_the_program() {
  const ids = new Set();
  const rooms = ['base', 'facts', 'plant', 'setup', 'loss', 'simulate', 'verdict', 'watch', 'cause', 'record', 'intake', 'report', 'job'];
  for (const room of rooms) {
    for (const entry of readdirSync(join(root, 'src', room), { recursive: true })) {
      if (!/\.[ch]pp$/.test(entry)) continue;
      const source = readFileSync(join(root, 'src', room, entry), 'utf8').replace(/\/\/.*$/gm, '');
      for (const [, id] of source.matchAll(/"([a-z]+(?:-[a-z0-9]+)+)"/g)) ids.add(id);
    }
  }
  for (const word of words_of_people) ids.delete(word);
  return ids;
}

const patterns = [
  [/\b\d{4}-\d\d-\d\dT\d\d:\d\d\S*/g, 'a time as files write it'],
  [/(?:^|[\s("])--[a-z][a-z-]+/g, 'an option of the command line'],
  [/\b(?:docs|src|data)\/\S+/g, 'a file of the source'],
  [/\bguidepin (?:[a-z]+-)*[a-z]+/g, 'a command'],
];

/** What is wrong with a text that a person reads, one line for each fault. */
export function faults_of_text(text, ids) {
  const faults = new Set();
  const around = (at, length) => text.slice(Math.max(0, at - 30), at + length + 30).replace(/\s+/g, ' ').trim();
  for (const [pattern, what] of patterns) {
    for (const found of text.matchAll(pattern)) faults.add(`${what}: … ${around(found.index, found[0].length)} …`);
  }
  // A file name or a serial number may contain an id: only whole words count.
  for (const found of text.matchAll(/(?<![\w./-])[a-z]+(?:-[a-z0-9]+)+(?![\w/-]|\.\w)/g)) {
    // "One-cord reference" is English; "one-cord" alone is the id.
    if (/^(one|two|three)-cord$/.test(found[0]) && /^\s+(reference|method)/.test(text.slice(found.index + found[0].length))) continue;
    if (ids.has(found[0])) faults.add(`the id ${found[0]}: … ${around(found.index, found[0].length)} …`);
  }
  return [...faults];
}

/** All text of a page that a person can see or hear: the text of its elements and the attributes that are shown or read out. For the browser. */
export function text_of_page() {
  const unseen = document.body.cloneNode(true);
  for (const one of unseen.querySelectorAll('script,style,template')) one.remove();
  const parts = [document.title];
  const walk = document.createTreeWalker(unseen, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) parts.push(walk.currentNode.data);
  for (const one of unseen.querySelectorAll('*')) {
    for (const name of ['aria-label', 'title', 'alt', 'placeholder']) if (one.hasAttribute(name)) parts.push(one.getAttribute(name));
  }
  return parts.join('\n');
}
