import * as nodeFs from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { InsideRoot } from '../../../src/rim/watch/inside-root.ts';
import { temporaryFolder, watched } from './watched.ts';

let base: string;
let elsewhere: string;

beforeEach(() => {
  base = temporaryFolder();
  elsewhere = temporaryFolder();
  nodeFs.mkdirSync(join(base, 'P/Day 1/card'), { recursive: true });
  nodeFs.writeFileSync(join(base, 'P/Day 1/card/a.mov'), 'x');
});
afterEach(() => {
  for (const folder of [base, elsewhere]) nodeFs.rmSync(folder, { recursive: true });
});

/** A folder is moved out of the root, and a link to it is left in its place. */
function moveAway(path: string): void {
  nodeFs.renameSync(join(base, path), join(elsewhere, 'moved'));
  nodeFs.symlinkSync(join(elsewhere, 'moved'), join(base, path));
}

describe('whether a name is reached through folders of the root', () => {
  const device = () => nodeFs.statSync(base, { bigint: true }).dev;
  const reaches = (path: string, over = {}) =>
    new InsideRoot({ fs: nodeFs, base, device: device(), ...over }).reaches(path);

  test('folders, a link, a file and nothing above it', () => {
    expect(['', 'P', 'P/Day 1/card/a.mov', 'P/none'].map((path) => reaches(path))).toEqual([true, true, true, true]);
    expect(reaches('P/Day 1/card/a.mov/x')).toBe(false);
    expect(reaches('P/none/x/y')).toBe(false);
    moveAway('P/Day 1');
    expect([reaches('P/Day 1'), reaches('P/Day 1/card'), reaches('P/Day 1/card/a.mov')]).toEqual([true, false, false]);
  });

  test('another device above it', () => {
    expect(reaches('P/Day 1/card/a.mov', { device: device() + 1n })).toBe(false);
    expect(reaches('P', { device: device() + 1n })).toBe(true);
  });

  test('an error of the drive is thrown, and is no answer', () => {
    const lstatSync = (() => {
      throw Object.assign(new Error('EIO: i/o error, lstat'), { code: 'EIO' });
    }) as unknown as typeof nodeFs.lstatSync;
    expect(() => reaches('P/a', { fs: { lstatSync } })).toThrow('EIO');
    expect(new InsideRoot({ fs: { lstatSync }, base, device: device() }).seemsToReach('P/a')).toBe(true);
  });

  test('each folder is looked at once', () => {
    let looks = 0;
    const lstatSync = ((path: string, options: never) => {
      looks += 1;
      return nodeFs.lstatSync(path, options);
    }) as typeof nodeFs.lstatSync;
    const inside = new InsideRoot({ fs: { lstatSync }, base, device: device() });
    for (let clip = 0; clip < 100; clip += 1) inside.reaches(`P/Day 1/card/${clip}.mov`);
    expect(looks).toBe(3);
  });
});

test('a folder moved elsewhere, with a link in its place: gone, and nothing is asked of its files there', async () => {
  const w = await watched({ root: base });
  try {
    const known = w.picture.files.get('P/Day 1/card/a.mov');
    if (known === undefined) throw new Error('a.mov is not there');
    moveAway('P/Day 1');
    const asked = ['P/Day 1/card/a.mov', 'P/Day 1', 'P/Day 1/card', 'P'];
    expect(await w.root.missing(asked)).toEqual(asked.slice(0, 3));
    expect(await w.root.inspect(['P/Day 1/card/a.mov'])).toMatchObject([{ stat: null, error: null }]);
    expect(await w.root.probe(known)).toMatchObject({ ok: false, reason: 'unreadable' });
    expect(await w.root.manifest(known)).toMatchObject({ ok: false, reason: 'unreadable' });
    await w.picture.until('gone', () => w.picture.files.size === 0, 4000);
    const before = w.picture.events.length;
    nodeFs.writeFileSync(join(elsewhere, 'moved/card/b.mov'), 'x');
    await w.root.sweep();
    await pause(500);
    const told = w.picture.events.slice(before).filter(({ type }) => type === 'files' || type === 'listing');
    expect(JSON.stringify(told, (_, value) => (typeof value === 'bigint' ? `${value}` : value))).not.toContain('mov');
  } finally {
    await w.end();
  }
});
