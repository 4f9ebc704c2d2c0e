import { expect, test } from 'vitest';
import { readSince, shelfDrives, wantedCopies } from '../../../src/core/backup/wanted-copies.ts';

const shelf = (name: string, drive: string | null | undefined, ...volumes: string[]) => ({
  ...{ name, volumes, known: drive === undefined ? null : { drive } },
});

test('shelves on one drive are one place; of those that do not tell nothing says so', () => {
  const shelves = [shelf('a', 'd1', 'stripe'), shelf('b', 'd1', 'stripe'), shelf('c', 'd2', 'other')];
  expect(shelfDrives(shelves, 'stripe')).toBe(1);
  expect(shelfDrives([...shelves, shelf('d', null, 'stripe')], 'stripe')).toBe(2);
  expect(shelfDrives([shelf('a', undefined, 'stripe'), shelf('b', undefined, 'stripe')], 'stripe')).toBe(2);
  expect(shelfDrives(shelves, 'nowhere')).toBe(0);
});

test('two copies are wanted, one where all shelves of a volume lie on one drive, and always what was said', () => {
  const shelves = [
    ...[shelf('a', 'd1', 'one', 'two'), shelf('b', 'd2', 'two'), shelf('c', 'd3', 'twins'), shelf('d', 'd3', 'twins')],
  ];
  expect(wantedCopies(null, ['none', 'one', 'two', 'twins'], shelves, [])).toEqual({
    ...{ copies: 2, byVolume: { none: 2, one: 1, two: 2, twins: 1 } },
  });
  expect(wantedCopies(3, ['one'], shelves, [])).toEqual({ copies: 3, byVolume: { one: 3 } });
  // A program alone is one place; beside shelves it is none that can be counted on.
  const programs = ['none', 'one', 'two'].map((volume) => ({ volume }));
  expect(wantedCopies(null, ['none', 'one', 'two', 'twins'], shelves, programs).byVolume).toEqual({
    ...{ none: 1, one: 1, two: 2, twins: 1 },
  });
});

test('the instant since which readings count is never earlier than the period, and stays for hours', () => {
  const day = 86_400_000;
  const now = 1_804_161_600_000 + 1;
  const since = readSince(now, 60 * day);
  expect(since).toBeGreaterThanOrEqual(now - 60 * day);
  expect(since - (now - 60 * day)).toBeLessThan(day / 4);
  expect(readSince(now + 3_600_000, 60 * day)).toBe(since);
});
