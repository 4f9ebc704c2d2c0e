import * as nodeFs from 'node:fs';
import { mkdirSync, mkdtempSync, realpathSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';
import { askFolder, lookAtFolder } from '../../../src/rim/volume/folder-look.ts';

const place = realpathSync(mkdtempSync(join(tmpdir(), 'headroomd-look-')));
afterAll(() => rmSync(place, { recursive: true, force: true }));
const stripe = join(place, 'stripe');
mkdirSync(stripe);
symlinkSync(stripe, join(place, 'work'));
symlinkSync('loop', join(place, 'loop'));
writeFileSync(join(place, 'clip.mov'), '');

const entry = fileURLToPath(new URL('../../../src/daemon/compose-folder.ts', import.meta.url));

describe.each([
  ['in this process', async (path: string) => lookAtFolder(nodeFs, path)],
  ['in a process of its own', (path: string) => askFolder(entry, path, 20_000)],
])('looking at a folder %s', (_, look) => {
  test('a folder is found, and where a link leads', async () => {
    expect(await look(stripe)).toEqual({ path: stripe, why: null });
    expect(await look(join(place, 'work'))).toEqual({ path: stripe, why: null });
  });

  test('what is none is told with its reason', async () => {
    const why = async (name: string) => (await look(join(place, name))).why;
    expect(await why('clip.mov')).toBe(`${join(place, 'clip.mov')} is a file, not a folder.`);
    expect(await why('gone')).toBe(`${join(place, 'gone')} does not exist.`);
    expect(await why('loop')).toMatch(/loop cannot be read: .*ELOOP/);
  });
});

const program = (text: string): string => {
  const path = join(place, `entry-${text.length}.mjs`);
  writeFileSync(path, text);
  return path;
};

test('who gives no answer is left after the patience, and the folder taken as named', async () => {
  const asked = performance.now();
  const silent = program('setInterval(() => {}, 1000);');
  expect(await askFolder(silent, stripe, 300)).toEqual({ path: stripe, why: null });
  expect(performance.now() - asked).toBeLessThan(3000);
});

test('who ends without an answer leaves the folder as named, at once', async () => {
  const asked = performance.now();
  expect(await askFolder(program('process.exit(3);'), stripe, 60_000)).toEqual({ path: stripe, why: null });
  expect(performance.now() - asked).toBeLessThan(20_000);
});
