import { expect, test } from 'vitest';
import { type Coming, watchComing } from '../../../src/core/backup/quiet.ts';
import { NOON } from '../samples.ts';

const MINUTE = 60_000;
const look = (before: Coming | null, exposedBytes: number | null, minute: number, isArriving = false) =>
  watchComing(before, { exposedBytes, isArriving }, NOON + minute * MINUTE);

test('what is exposed at the first look may have come just now; what becomes more has; what becomes less has not', () => {
  const first = look(null, 5, 0);
  expect(first).toEqual({ exposedBytes: 5, cameAt: NOON, busyAt: NOON });
  expect(look(null, 0, 0)).toEqual({ exposedBytes: 0, cameAt: null, busyAt: NOON });
  const more = look(first, 9, 3);
  expect(more).toEqual({ exposedBytes: 9, cameAt: NOON + 3 * MINUTE, busyAt: NOON + 3 * MINUTE });
  const less = look(more, 2, 5);
  expect(less).toEqual({ exposedBytes: 2, cameAt: NOON + 3 * MINUTE, busyAt: NOON + 3 * MINUTE });
  expect(look(less, 3, 6)?.cameAt).toBe(NOON + 6 * MINUTE);
});

test('while something arrives it is not quiet; what nobody can tell changes nothing', () => {
  const first = look(null, 5, 0);
  expect(look(first, 5, 4, true)).toEqual({ exposedBytes: 5, cameAt: NOON, busyAt: NOON + 4 * MINUTE });
  expect(look(first, null, 4)).toBe(first);
});

test('a clock that was ahead is not believed', () => {
  const ahead = { exposedBytes: 5, cameAt: NOON + 600 * MINUTE, busyAt: NOON + 600 * MINUTE };
  expect(look(ahead, 5, 1)).toEqual({ exposedBytes: 5, cameAt: null, busyAt: NOON + MINUTE });
});
