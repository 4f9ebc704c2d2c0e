import { expect, test } from 'vitest';
import { timeRelation } from '../../../src/core/cards/card-time.ts';
import { NOON, SECOND } from '../samples.ts';
import { copyOf, fileOf, HOUR } from './arrived.ts';

test.each<[string, number | null, number, string]>([
  ['to the millisecond', NOON - HOUR, NOON - HOUR, 'same'],
  ['to 2 s (FAT)', NOON - HOUR, NOON - HOUR - 2 * SECOND, 'same'],
  ['not to more', NOON - HOUR, NOON - HOUR + 2 * SECOND + 1, 'later'],
  // Nepal, UTC+05:45 (IANA time zone database).
  ['read as local time of Kathmandu', NOON - HOUR, NOON - HOUR - 5.75 * HOUR, 'shifted'],
  ['over the widest two zones', NOON - HOUR, NOON + 25 * HOUR, 'shifted'],
  ['further than that', NOON - HOUR, NOON + 25.25 * HOUR, 'later'],
  ['no whole quarter of an hour', NOON - HOUR, NOON - HOUR - 5.7 * HOUR, 'earlier'],
  ['a camera clock ahead of ours', NOON + HOUR, NOON + 7777, 'unknown'],
  ['no time', null, NOON, 'unknown'],
])('%s', (_, card, there, expected) => {
  expect(timeRelation(fileOf('a', 1, card), copyOf('a', 1, { mtimeMs: there }), { takenAt: NOON })).toBe(expected);
});
