import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  formatAge,
  formatBitrate,
  formatBytes,
  formatCount,
  formatDuration,
  formatFrameRate,
  formatRate,
  isoWithOffset,
} from '../../src/core/units.ts';

describe('formatBytes', () => {
  // IEC 80000-13: kB, MB, GB, TB are powers of 1000. 933133660160: what mke2fs 1.47.0 leaves the user of 10^12 bytes.
  test.each([
    [0, '0 B'],
    [1, '1 B'],
    [999, '999 B'],
    [1000, '1.00 kB'],
    [144_000, '144 kB'],
    [933_133_660_160, '933 GB'],
    [1e12, '1.00 TB'],
    [2 ** 40, '1.10 TB'],
    [1.24e12, '1.24 TB'],
    [12.04e9, '12.0 GB'],
    [-316e9, '-316 GB'],
    [-0.2, '0 B'],
    [1.5e21, '1500 EB'],
    [Number.NaN, 'unknown'],
  ])('%d reads %s', (bytes, words) => expect(formatBytes(bytes)).toBe(words));

  test.each([
    [999_499, '999 kB'],
    [999_500, '1.00 MB'],
    [9_994_999, '9.99 MB'],
    [9_995_001, '10.0 MB'],
    [99_949_999, '99.9 MB'],
    [99_950_001, '100 MB'],
    [999.5e9, '1.00 TB'],
  ])('%d carries over to %s', (bytes, words) => expect(formatBytes(bytes)).toBe(words));

  test('says the value to half a unit of its third digit', () => {
    const powers: Record<string, number> = { B: 1, kB: 1e3, MB: 1e6, GB: 1e9, TB: 1e12, PB: 1e15 };
    fc.assert(
      fc.property(fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER }), (bytes) => {
        const [figure = '', unit = ''] = formatBytes(bytes).split(' ');
        const said = Number(figure) * (powers[unit] ?? Number.NaN);
        expect(Math.abs(said - bytes)).toBeLessThanOrEqual(Math.max(0.5, bytes * 0.00501));
        if (unit !== 'B') expect(figure.replace('.', '')).toHaveLength(3);
      }),
    );
  });
});

describe('rates', () => {
  // DV 25, 625/50: 144000 bytes a frame (IEC 61834) make 28.8 Mb/s at 25 fps.
  test('of codecs in Mb/s', () => expect(formatBitrate(144_000 * 8 * 25)).toBe('28.8 Mb/s'));
  // DNxHR HQX, 3840x2160: 3641344 bytes a frame (SMPTE ST 2019-1), 728.2688 Mb/s at 25 fps.
  test('of a heavy codec in Mb/s', () => expect(formatBitrate(3_641_344 * 8 * 25)).toBe('728 Mb/s'));
  test.each([
    [0, '0 MB/s'],
    [3600, 'under 0.01 MB/s'],
    [6.2e6, '6.20 MB/s'],
    [104_857_600, '105 MB/s'], // 100 MiB/s
    [1.24e9, '1240 MB/s'],
    [Number.POSITIVE_INFINITY, 'unknown'],
  ])('of volumes in MB/s: %d reads %s', (bps, words) => expect(formatRate(bps)).toBe(words));
});

describe('times', () => {
  test.each([
    [0.96, '0.96 s'],
    [1, '1 s'],
    [9.999, '10 s'],
    [43, '43 s'],
    [59.6, '1 min 00 s'],
    [303, '5 min 03 s'],
    [3599.6, '1 h 00 min'],
    [7500, '2 h 05 min'],
    [403_380, '112 h 03 min'],
    [-43, '-43 s'],
    [Number.NaN, 'unknown'],
  ])('a duration of %d s reads %s', (seconds, words) => expect(formatDuration(seconds)).toBe(words));

  test.each([
    [59.9, '59 s'],
    [60, '1 min'],
    [3600, '1 h'],
    [48 * 3600, '2 days'],
    [3599, '59 min'],
    [5 * 3600 + 3599, '5 h'],
    [3 * 86_400 - 1, '2 days'],
    [-5, '0 s'],
    [Number.NaN, 'unknown'],
  ])('an age of %d s reads %s', (seconds, words) => expect(formatAge(seconds)).toBe(words));

  // Summer time in the EU begins at 01:00 UTC on the last Sunday of March (Directive 2000/84/EC): 28 March 2027.
  // The other two: Python's zoneinfo.
  test.each([
    [1_806_195_599_000, 'Europe/Berlin', '2027-03-28T01:59:59.000+01:00'],
    [1_806_195_600_000, 'Europe/Berlin', '2027-03-28T03:00:00.000+02:00'],
    [1_804_161_600_000, 'Asia/Kathmandu', '2027-03-04T17:45:00.000+05:45'],
    [1_804_161_600_000, '-03:30', '2027-03-04T08:30:00.000-03:30'],
    [0, 'UTC', '1970-01-01T00:00:00.000+00:00'],
  ])('%d in %s is %s', (instant, zone, iso) => expect(isoWithOffset(instant, zone)).toBe(iso));

  test('an unknown zone is refused', () => expect(() => isoWithOffset(0, 'Lock/Keepers')).toThrow(RangeError));
});

describe('frame rates', () => {
  // SMPTE ST 12-1 rates; the labels are the trade's.
  test.each([
    [24_000, 1001, '23.976'],
    [24, 1, '24'],
    [25, 1, '25'],
    [30_000, 1001, '29.97'],
    [50, 1, '50'],
    [60_000, 1001, '59.94'],
    [120_000, 1001, '119.88'],
    [25, 0, 'unknown'],
    [0, 1, 'unknown'],
  ])('%d/%d reads %s', (num, den, words) => expect(formatFrameRate({ num, den })).toBe(words));
});

test('counts agree in number', () => {
  expect(formatCount(1, 'clip')).toBe('1 clip');
  expect(formatCount(0, 'clip')).toBe('0 clips');
  expect(formatCount(2, 'advisory', 'advisories')).toBe('2 advisories');
});
