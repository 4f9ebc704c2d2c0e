import { describe, expect, test } from 'vitest';
import { readTime } from '../../src/cli/until-argument.ts';

const ROME = 'Europe/Rome';
const at = (iso: string) => Temporal.Instant.from(iso).epochMilliseconds;
/** In Rome it is 13:30. */
const NOW = at('2027-03-04T12:30:00Z');

const read = (text: string, now = NOW) => {
  const reading = readTime(text, now, ROME);
  return reading.ok ? Temporal.Instant.fromEpochMilliseconds(reading.value).toString() : reading.hint;
};

describe('a time that is written by hand', () => {
  test.each([
    ['18:00', '2027-03-04T17:00:00Z'],
    [' 9:05 ', '2027-03-05T08:05:00Z'],
    ['13:30', '2027-03-05T12:30:00Z'],
    ['13:31', '2027-03-04T12:31:00Z'],
    ['0:00', '2027-03-04T23:00:00Z'],
    ['2027-03-05', '2027-03-04T23:00:00Z'],
    ['2027-03-05 18:00', '2027-03-05T17:00:00Z'],
    ['2027-03-05T18:00:30', '2027-03-05T17:00:30Z'],
    ['2027-03-05T18:00Z', '2027-03-05T18:00:00Z'],
    ['2027-03-05T18:00-05:00', '2027-03-05T23:00:00Z'],
    // Summer time there begins on 28 March 2027 at 02:00 (EU directive 2000/84/EC: the last Sunday of March, 01:00 UTC).
    ['2027-03-28 01:59', '2027-03-28T00:59:00Z'],
    ['2027-03-28 02:30', '2027-03-28T01:30:00Z'],
    ['2027-03-28 18:00', '2027-03-28T16:00:00Z'],
  ])('%s is %s', (text, expected) => {
    expect(read(text)).toBe(expected);
  });

  test('an hour of tomorrow is one of its clocks, on the day they are set too', () => {
    expect(read('12:00', at('2027-03-27T20:00:00Z'))).toBe('2027-03-28T10:00:00Z');
  });

  test.each(['', 'never', '24:00', '12:60', '1200', '2027-3-5', '05.03.2027', '2027-03-05 18', '18:00Z', '4h'])(
    '%j is none',
    (text) => {
      expect(read(text)).toBeNull();
    },
  );

  test.each(['2027-02-29', '2027-13-01', '2027-03-05 24:00', '2027-03-05T18:00+99:00'])('%s does not exist', (text) => {
    expect(read(text)).toBe('there is no such day or hour');
  });
});
