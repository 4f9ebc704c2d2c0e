import { describe, expect, test } from 'vitest';
import { parseCron } from '../../src/settings/cron.ts';

// Field order and ranges: POSIX.1-2024, utility `crontab` (minute 0-59, hour 0-23, day of month 1-31, month 1-12, day of
// week 0-6 with 0 for Sunday). Sunday as 7, names and steps: common practice, no source.
describe('cron fields', () => {
  test.each([
    ['0 4 * * *', '0 4 * * *'],
    ['  0   4 *\t* * ', '0 4 * * *'],
    ['59 23 31 12 6', '59 23 31 12 6'],
    ['*/15 0-6,22 1-7/2 jan-mar MON', '*/15 0-6,22 1-7/2 jan-mar MON'],
    ['0 4 * * 7', '0 4 * * 7'],
    ['0 4 29 2 *', '0 4 29 2 *'],
    ['0 4 31 1,2 *', '0 4 31 1,2 *'],
    // With a day of the week given, the day of the month need not exist: either one starts it.
    ['0 4 31 2 1', '0 4 31 2 1'],
  ])('takes "%s"', (text, plain) => {
    expect(parseCron(text)).toEqual({ ok: true, value: plain });
  });

  test.each([
    ['60 4 * * *', 'the minute goes from 0 to 59'],
    ['0 24 * * *', 'the hour goes from 0 to 23'],
    ['0 4 0 * *', 'the day of the month goes from 1 to 31'],
    ['0 4 32 * *', 'the day of the month goes from 1 to 31'],
    ['0 4 * 13 *', 'the month goes from 1 to 12'],
    ['0 4 * * 8', 'the day of the week goes from 0 to 7'],
    ['0 4-2 * * *', 'the hour goes from 0 to 23'],
    ['*/0 4 * * *', 'the minute goes from 0 to 59'],
    ['0, 4 * * *', 'the minute goes from 0 to 59'],
    ['*-5 4 * * *', 'the minute goes from 0 to 59'],
    ['mon 4 * * *', 'the minute goes from 0 to 59'],
    ['0 4 30 2 *', 'no such day comes in those months'],
    ['0 4 31 4,6,9,11 *', 'no such day comes in those months'],
    ['', 'five fields, not 0; "0 4 * * *" is every day at 04:00'],
    ['0 4 * *', 'five fields, not 4; "0 4 * * *" is every day at 04:00'],
    ['0 0 4 * * *', 'five fields, not 6; "0 4 * * *" is every day at 04:00'],
    ['@daily', 'five fields, not 1; "0 4 * * *" is every day at 04:00'],
  ])('refuses "%s"', (text, hint) => {
    expect(parseCron(text)).toEqual({ ok: false, hint });
  });
});
