import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseDay, parseRaster, parseRate } from '../../src/settings/shoot.ts';
import { runs } from '../effort.ts';

describe('rates', () => {
  // SMPTE ST 12-1: the 30-frame family runs at 30/1.001; 24 and 60 likewise (23.976 = 24000/1001, 59.94 = 60000/1001).
  test.each([
    ['25', 25, 1],
    [25, 25, 1],
    ['23.976', 24_000, 1001],
    [23.98, 24_000, 1001],
    ['29.97', 30_000, 1001],
    [59.94, 60_000, 1001],
    ['119.88', 120_000, 1001],
    ['24000/1001', 24_000, 1001],
    ['50/2', 25, 1],
    ['12.5', 25, 2],
    [' 48 ', 48, 1],
  ])('%s', (written, num, den) => {
    expect(parseRate(written)).toEqual({ ok: true, value: { num, den } });
  });

  test('the decimal people say and the ratio it stands for differ by less than half of its last digit', () => {
    for (const text of ['23.976', '23.98', '29.97', '47.952', '47.95', '59.94', '119.88']) {
      const rate = parseRate(text);
      const digits = text.split('.')[1]?.length ?? 0;
      expect(rate.ok && Math.abs(rate.value.num / rate.value.den - Number(text))).toBeLessThanOrEqual(
        0.5 * 10 ** -digits,
      );
    }
  });

  test.each(['', '0', '24000/0', '0/1', '-25', '25/', 'p25', '1001', Number.NaN, Number.POSITIVE_INFINITY, 1e21])(
    'refuses %s',
    (written) => {
      expect(parseRate(written).ok).toBe(false);
    },
  );

  test('a letter for the scan is answered', () => {
    expect(parseRate('25p')).toEqual({ ok: false, hint: 'leave the p or i away' });
  });
});

describe('days', () => {
  // ISO 8601 calendar dates, against Temporal.
  test('exactly the days that the calendar has', () => {
    const part = (max: number) => fc.integer({ min: 0, max });
    fc.assert(
      fc.property(fc.integer({ min: 1890, max: 2110 }), part(14), part(33), (year, month, day) => {
        const text = `${year}-${String(month).padStart(2, '0')}-${String(day).padStart(2, '0')}`;
        expect(parseDay(text).ok).toBe(calendarHas(text));
      }),
      { numRuns: runs(2000) },
    );
  });

  test.each(['2027-3-4', '04.03.2027', '2027-03-04T10:00', ' 2027-03-04', '20270304'])('refuses "%s"', (text) => {
    expect(parseDay(text)).toEqual({ ok: false, hint: null });
  });
});

function calendarHas(text: string): boolean {
  try {
    return Temporal.PlainDate.from(text, { overflow: 'reject' }).toString() === text;
  } catch {
    return false;
  }
}

describe('rasters', () => {
  test.each([
    ['3840x2160', 3840, 2160],
    ['1920x1080', 1920, 1080],
  ])('%s', (text, width, height) => {
    expect(parseRaster(text)).toEqual({ ok: true, value: { width, height } });
  });

  test.each([
    ['3840 x 2160', 'did you mean "3840x2160"?'],
    ['3840×2160', 'did you mean "3840x2160"?'],
    ['UHD', null],
    ['0x2160', 'a side has 1 to 32768 pixels'],
    ['99999x1', 'a side has 1 to 32768 pixels'],
  ])('refuses "%s"', (text, hint) => {
    expect(parseRaster(text)).toEqual({ ok: false, hint });
  });
});
