import { expect, test } from 'vitest';
import { newUnit } from '../../../src/core/intake/settle-state.ts';
import type { FileRecord } from '../../../src/core/model.ts';
import { isMereGrowth } from '../../../src/daemon/intake/growth.ts';
import { newEntry } from '../../../src/daemon/intake/unit-entry.ts';

const record = (size: number): FileRecord => ({
  path: 'Saltmarsh/Footage/A001.mov',
  size,
  allocated: size,
  mtimeNs: BigInt(size),
  ctimeNs: BigInt(size),
  dev: 1n,
  ino: 5n,
  nlink: 1,
  volume: 'stripe',
  area: 'project',
  project: 'Saltmarsh',
  kind: 'original',
  unit: 'Saltmarsh/Footage/a001.*',
  state: 'arriving',
});

function known(openLooks: number) {
  const entry = newEntry(
    { unit: record(1).unit, key: record(1).unit, firstSeenAt: 0 },
    { ...newUnit(), openLooks, generation: 1 },
  );
  entry.records.set(record(1).path, record(1));
  entry.notedAt = 100;
  return entry;
}

test('growth of what is known to be open is taken note of here, and written down now and then', () => {
  const entry = known(1);
  expect(isMereGrowth(entry, record(2), { now: 100.5, moving: 1 })).toBe(true);
  expect(entry.records.get(record(1).path)?.size).toBe(2);
  expect(isMereGrowth(entry, record(3), { now: 101, moving: 1 })).toBe(false);
  expect(isMereGrowth(entry, record(4), { now: 101.5, moving: 1 })).toBe(true);
});

test('where five hundred grow each is written down every few minutes', () => {
  const entry = known(1);
  expect(isMereGrowth(entry, record(2), { now: 349, moving: 500 })).toBe(true);
  expect(isMereGrowth(entry, record(3), { now: 350, moving: 500 })).toBe(false);
});

test('a file that is not known, or of which no look has found a writer, is taken like every other', () => {
  expect(isMereGrowth(undefined, record(2), { now: 100.5, moving: 1 })).toBe(false);
  expect(isMereGrowth(known(0), record(2), { now: 100.5, moving: 1 })).toBe(false);
  const other = { ...record(2), path: 'Saltmarsh/Footage/A001.wav' };
  expect(isMereGrowth(known(1), other, { now: 100.5, moving: 1 })).toBe(false);
});
