import { execFileSync } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { tmpdir } from 'node:os';
import { expect, test } from 'vitest';
import { readSpace } from '../../../src/rim/volume/space.ts';

const MOUNT = { mountPoint: '/media/stripe', readOnly: false };

test('the same figures as df (coreutils), up to what others write meanwhile', () => {
  const space = readSpace(nodeFs, tmpdir());
  const df = execFileSync('df', ['-B1', '--output=size,avail', tmpdir()], { encoding: 'utf8' });
  const [total = 0, available = 0] = (df.split('\n')[1] ?? '').trim().split(/\s+/).map(Number);
  expect(space.totalBytes).toBe(total);
  expect(Math.abs(space.availableBytes - available)).toBeLessThan(500e6);
  expect(space.availableBytes).toBeLessThanOrEqual(space.freeBytes);
});

test('blocks beyond 2^32 and the share kept for root', () => {
  const fs = {
    statfsSync: () => ({ bsize: 4096n, blocks: 20_000_000_000n, bfree: 5_000_000_000n, bavail: 4_000_000_000n }),
  };
  expect(readSpace(fs, '/media/stripe')).toEqual({
    totalBytes: 81_920_000_000_000,
    freeBytes: 20_480_000_000_000,
    availableBytes: 16_384_000_000_000,
  });
});

test('a folder that may use only a part of its file system: both are told (statfs of a project quota, kernel sources)', () => {
  const blocks: Record<string, bigint> = { '/media/stripe': 4_000n, '/media/stripe/edit': 1_000n };
  const fs = { statfsSync: (path: string) => ({ bsize: 1n, blocks: blocks[path] ?? 0n, bfree: 600n, bavail: 500n }) };
  expect(readSpace(fs, '/media/stripe/edit', MOUNT)).toEqual({
    ...{ totalBytes: 1_000, freeBytes: 600, availableBytes: 500, fileSystemBytes: 4_000 },
  });
  expect(readSpace(fs, '/media/stripe', MOUNT).fileSystemBytes).toBeUndefined();
});

test('that it takes no writes is told as the mount says it, and left out where it does not', () => {
  const fs = { statfsSync: () => ({ bsize: 1n, blocks: 9n, bfree: 5n, bavail: 4n }) };
  const ofService = readSpace(fs, '/media/stripe', { ...MOUNT, readOnly: true, viewOnly: true });
  expect(ofService.readOnly).toBeUndefined();
  expect(readSpace(fs, '/media/stripe', { ...MOUNT, readOnly: true })).toEqual({
    ...{ totalBytes: 9, freeBytes: 5, availableBytes: 4, readOnly: true },
  });
  expect(readSpace(fs, '/media/stripe', MOUNT)).toEqual({ totalBytes: 9, freeBytes: 5, availableBytes: 4 });
});

test('a folder that is not there throws', () => {
  expect(() => readSpace(nodeFs, '/no/such/folder')).toThrow('ENOENT');
});
