import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { parseDuration, parseShare, parseSize, parseSpeed } from '../../src/settings/units.ts';

const value = (number: number) => ({ ok: true, value: number });

describe('sizes', () => {
  // ISO/IEC 80000-13: SI prefixes are powers of 1000, Ki/Mi/Gi/Ti/Pi powers of 1024. The integers were also printed by
  // GNU coreutils, `numfmt --from=si 1T` and `numfmt --from=iec-i 1Ti`.
  test.each([
    ['1 B', 1],
    ['1 kB', 1000],
    ['1 MB', 1_000_000],
    ['500 GB', 500_000_000_000],
    ['1TB', 1_000_000_000_000],
    ['1.5 TB', 1_500_000_000_000],
    ['1 PB', 1_000_000_000_000_000],
    ['1 KiB', 1024],
    ['1 MiB', 1_048_576],
    ['1 GiB', 1_073_741_824],
    ['1 TiB', 1_099_511_627_776],
    ['  2   TiB ', 2_199_023_255_552],
    ['0 B', 0],
  ])('%s', (text, bytes) => {
    expect(parseSize(text)).toEqual(value(bytes));
  });

  // IEC 80000-13: 1 TB is 0.9095 TiB, 500 GB are 465.66 GiB.
  test('decimal against binary', () => {
    const bytes = (text: string) => {
      const reading = parseSize(text);
      return reading.ok ? reading.value : Number.NaN;
    };
    expect(bytes('1 TB') / bytes('1 TiB')).toBeCloseTo(0.9094947017729282, 12);
    expect(bytes('500 GB') / bytes('1 GiB')).toBeCloseTo(465.66128730773926, 9);
  });

  test.each([
    '',
    '500',
    'GB',
    '500 XB',
    '-1 GB',
    '+1 GB',
    '1e3 GB',
    '1.5.2 GB',
    '.5 GB',
    '5. GB',
    '500 GB free',
    '10%',
    'Infinity GB',
  ])('refuses "%s"', (text) => {
    expect(parseSize(text).ok).toBe(false);
  });

  test.each([
    ['500 gb', 'did you mean "500 GB"?'],
    ['500 G', 'did you mean "500 GB"?'],
    ['2 tib', 'did you mean "2 TiB"?'],
    ['1,5 TB', 'write the decimals with a point: "1.5 TB"'],
    ['500 apples', null],
    ['99999999 PB', 'that is more than any volume holds'],
  ])('%s is answered with a hint', (text, hint) => {
    expect(parseSize(text)).toEqual({ ok: false, hint });
  });

  test('every whole number of decimal units is exact', () => {
    const units = [
      ['kB', 1e3],
      ['MB', 1e6],
      ['GB', 1e9],
      ['TB', 1e12],
    ] as const;
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 9000 }),
        fc.constantFrom(...units),
        fc.constantFrom('', ' '),
        (n, [unit, each], gap) => {
          expect(parseSize(`${n}${gap}${unit}`)).toEqual(value(n * each));
        },
      ),
    );
  });
});

describe('speeds', () => {
  test.each([
    ['1700 MB/s', 1_700_000_000],
    ['1.7 GB/s', 1_700_000_000],
    // IEC 80000-13: 100 MiB/s are 104.8576 MB/s.
    ['100 MiB/s', 104_857_600],
  ])('%s', (text, rate) => {
    expect(parseSpeed(text)).toEqual(value(rate));
  });

  test.each([
    // 8 bits to the byte (IEC 80000-13): 100 Mb/s are 12.5 MB/s, 10 Gb/s are 1.25 GB/s.
    ['100 Mb/s', 'Mb/s counts bits; in bytes that is "12.5 MB/s"'],
    ['10 Gb/s', 'Gb/s counts bits; in bytes that is "1.25 GB/s"'],
    ['800 Mbit/s', 'Mbit/s counts bits; in bytes that is "100 MB/s"'],
    ['1700 MB', 'did you mean "1700 MB/s"?'],
    ['1700 MBps', 'did you mean "1700 MB/s"?'],
    ['1700 mb/s', 'did you mean "1700 MB/s"?'],
    ['fast', null],
  ])('%s is answered with a hint', (text, hint) => {
    expect(parseSpeed(text)).toEqual({ ok: false, hint });
  });
});

describe('durations', () => {
  // BIPM, The International System of Units, 9th edition, table 8: 1 min = 60 s, 1 h = 3600 s, 1 d = 86 400 s.
  test.each([
    ['300 ms', 0.3],
    ['0.3 s', 0.3],
    ['30s', 30],
    ['10 min', 600],
    ['6h', 21_600],
    ['1 h 30 min', 5400],
    ['1d12h', 129_600],
    ['1.5 h', 5400],
    ['0 s', 0],
  ])('%s', (text, seconds) => {
    expect(parseDuration(text)).toEqual(value(seconds));
  });

  test.each([
    ['10 minutes', 'did you mean "10 min"?'],
    ['10 m', 'did you mean "10 min"?'],
    ['2 hours', 'did you mean "2 h"?'],
    ['30 S', 'did you mean "30 s"?'],
    ['1,5 h', 'write the decimals with a point: "1.5 h"'],
    ['30 min 1 h', 'the larger unit comes first, and each only once'],
    ['1 h 1 h', 'the larger unit comes first, and each only once'],
    ['300', null],
    ['-3 s', null],
    ['soon', null],
    ['', null],
  ])('%s is answered with a hint', (text, hint) => {
    expect(parseDuration(text)).toEqual({ ok: false, hint });
  });

  test('hours, minutes and seconds add up', () => {
    const small = fc.integer({ min: 0, max: 59 });
    fc.assert(
      fc.property(small, small, small, (h, min, s) => {
        expect(parseDuration(`${h} h ${min}min${s} s`)).toEqual(value(h * 3600 + min * 60 + s));
      }),
    );
  });
});

describe('shares', () => {
  test.each([
    ['10%', 0.1],
    ['0 %', 0],
    ['100%', 1],
    ['12.5%', 0.125],
  ])('%s', (text, share) => {
    expect(parseShare(text)).toEqual(value(share));
  });

  test.each(['101%', '10', '0.1', '-1%', '%', '10 percent', '500 GB'])('refuses "%s"', (text) => {
    expect(parseShare(text).ok).toBe(false);
  });
});
