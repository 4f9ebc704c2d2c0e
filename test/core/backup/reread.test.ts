import { expect, test } from 'vitest';
import { isLateBefore, isTurnBefore } from '../../../src/core/backup/reread.ts';
import { NOON } from '../samples.ts';

const DAY = 86_400;

test('of 60 days a copy has its turn after 45, and is late after all of them', () => {
  expect(NOON - isTurnBefore(60 * DAY, NOON)).toBe(45 * DAY * 1000);
  expect(NOON - isLateBefore(60 * DAY, NOON)).toBe(60 * DAY * 1000);
});
