import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  countingRate,
  formatTimecode,
  fromFrameNumber,
  parseTimecode,
  timecodeToSeconds,
  toFrameNumber,
} from '../../../src/core/intake/timecode.ts';
import type { Ratio } from '../../../src/core/model.ts';

const r2997: Ratio = { num: 30000, den: 1001 };
const r5994: Ratio = { num: 60000, den: 1001 };
const r23976: Ratio = { num: 24000, den: 1001 };
const whole = (num: number): Ratio => ({ num, den: 1 });

function frameOf(text: string, rate: Ratio): number | null {
  const timecode = parseTimecode(text);
  return timecode === null ? null : toFrameNumber(timecode, rate);
}

function labelOf(frame: number, rate: Ratio, drop: boolean): string | null {
  const timecode = fromFrameNumber(frame, rate, drop);
  return timecode === null ? null : formatTimecode(timecode);
}

/**
 * SMPTE ST 12-1, drop-frame. The values were cross-checked three ways: by enumerating every label of a day, with the npm
 * package smpte-timecode, and with the frame number formula of FFmpeg libavutil/timecode.c.
 */
const drop2997: readonly (readonly [string, number])[] = [
  ['00:00:59;29', 1799],
  ['00:01:00;02', 1800],
  ['00:02:00;02', 3598],
  ['00:09:59;29', 17981],
  ['00:10:00;00', 17982],
  ['00:11:00;02', 19782],
  ['01:00:00;00', 107892],
  ['10:00:00;00', 1078920],
  ['23:59:59;29', 2589407],
];
const drop5994: readonly (readonly [string, number])[] = [
  ['00:00:59;59', 3599],
  ['00:01:00;04', 3600],
  ['00:10:00;00', 35964],
  ['01:00:00;00', 215784],
  ['23:59:59;59', 5178815],
];

describe('SMPTE ST 12-1', () => {
  test.each(drop2997)('29.97 drop-frame: %s is frame %i', (label, frame) => {
    expect(frameOf(label, r2997)).toBe(frame);
    expect(labelOf(frame, r2997, true)).toBe(label);
  });

  test.each(drop5994)('59.94 drop-frame: %s is frame %i', (label, frame) => {
    expect(frameOf(label, r5994)).toBe(frame);
    expect(labelOf(frame, r5994, true)).toBe(label);
  });

  // Same source; the non-drop counts are arithmetic.
  test.each([
    ['25', whole(25), 90_000],
    ['23.976', r23976, 86_400],
    ['29.97 non-drop', r2997, 108_000],
  ] as const)('%s: an hour of labels', (_name, rate, frames) => {
    expect(frameOf('01:00:00:00', rate)).toBe(frames);
  });

  test.each([
    ['00:01:00;00', r2997],
    ['00:01:00;01', r2997],
    ['00:01:00;03', r5994],
  ] as const)('%s does not exist', (label, rate) => {
    expect(frameOf(label, rate)).toBeNull();
  });

  test('real length of a day and an hour of labels', () => {
    const day = (toFrameNumber({ hours: 23, minutes: 59, seconds: 59, frames: 29, drop: true }, r2997) ?? 0) + 1;
    expect((day * 1001) / 30000).toBeCloseTo(86399.9136, 9);
    expect(timecodeToSeconds('01:00:00;00', r2997)).toBeCloseTo(3599.9964, 9);
    expect(timecodeToSeconds('01:00:00:00', r2997)).toBeCloseTo(3603.6, 9);
    expect(timecodeToSeconds('20:15:00:00', whole(25))).toBe(72_900);
  });
});

describe('against counting', () => {
  /** Counts through the labels one by one, leaving out what the rule says in words. */
  function enumerate(count: number, left: number, minutes: number): string[] {
    const labels: string[] = [];
    for (let minute = 0; minute < minutes; minute++)
      for (let second = 0; second < 60; second++)
        for (let frame = 0; frame < count; frame++) {
          if (minute % 10 !== 0 && second === 0 && frame < left) continue;
          const text = [Math.floor(minute / 60), minute % 60, second].map((n) => String(n).padStart(2, '0')).join(':');
          labels.push(`${text};${String(frame).padStart(2, '0')}`);
        }
    return labels;
  }

  test.each([
    ['29.97', r2997, 30, 2],
    ['59.94', r5994, 60, 4],
  ] as const)('each label of two hours at %s, in order', (_name, rate, count, left) => {
    const labels = enumerate(count, left, 120);
    const wrong = labels.findIndex(
      (label, frame) => frameOf(label, rate) !== frame || labelOf(frame, rate, true) !== label,
    );
    expect(wrong).toBe(-1);
    expect(labels.length).toBe(2 * (count === 30 ? 107_892 : 215_784));
  });
});

describe('properties', () => {
  const rates = fc.constantFrom(r23976, whole(24), whole(25), r2997, whole(30), whole(50), r5994, whole(60));

  test('a frame of a day, to its label and back', () => {
    fc.assert(
      fc.property(rates, fc.boolean(), fc.nat({ max: 86_000 * 23 }), (rate, drop, frame) => {
        const timecode = fromFrameNumber(frame, rate, drop);
        const knowsDrop = rate === r2997 || rate === r5994;
        if (drop && !knowsDrop) expect(timecode).toBeNull();
        else expect(timecode === null ? null : toFrameNumber(timecode, rate)).toBe(frame);
      }),
    );
  });

  test('midnight is passed in both directions', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(r2997, r5994),
        fc.boolean(),
        fc.integer({ min: -1e7, max: 1e7 }),
        (rate, drop, frame) => {
          const last = `23:59:59${drop ? ';' : ':'}${rate === r2997 ? 29 : 59}`;
          const day = (frameOf(last, rate) ?? Number.NaN) + 1;
          expect(labelOf(frame, rate, drop)).toBe(labelOf(frame + day, rate, drop));
        },
      ),
    );
    expect(labelOf(-1, r2997, true)).toBe('23:59:59;29');
    expect(labelOf(2_589_408, r2997, true)).toBe('00:00:00;00');
  });

  test('text survives being read and written', () => {
    fc.assert(
      fc.property(
        fc.nat(23),
        fc.nat(59),
        fc.nat(59),
        fc.nat(59),
        fc.boolean(),
        (hours, minutes, seconds, frames, drop) => {
          const timecode = { hours, minutes, seconds, frames, drop };
          expect(parseTimecode(formatTimecode(timecode))).toEqual(timecode);
        },
      ),
    );
  });

  test('drop-frame labels never leave the clock by more than two frames before the ten minutes are over', () => {
    fc.assert(
      fc.property(fc.nat({ max: 2_589_407 }), (frame) => {
        const timecode = fromFrameNumber(frame, r2997, true);
        if (timecode === null) return false;
        const clock =
          timecode.hours * 3600 + timecode.minutes * 60 + timecode.seconds + (timecode.frames * 1001) / 30000;
        return Math.abs((frame * 1001) / 30000 - clock) < 0.0864 + 0.0601;
      }),
    );
  });
});

describe('what is no label', () => {
  test.each([
    '',
    '10:00:00',
    '24:00:00:00',
    '10:60:00:00',
    '10:00:60:00',
    '1:00:00:00',
    '10:00:00.00',
    ' 10:00:00:00',
    '10:00:00;',
  ])('"%s"', (text) => expect(parseTimecode(text)).toBeNull());

  test('frames beyond the rate, drop-frame where there is none, rates that are none', () => {
    expect(frameOf('10:00:00:25', whole(25))).toBeNull();
    expect(frameOf('10:00:00;00', whole(25))).toBeNull();
    expect(frameOf('10:00:00;00', whole(30))).toBeNull();
    expect(frameOf('10:00:00;00', r23976)).toBeNull();
    expect(frameOf('10:00:00:00', { num: 0, den: 1 })).toBeNull();
    expect(frameOf('10:00:00:00', { num: 25, den: 0 })).toBeNull();
    expect(timecodeToSeconds('soon', whole(25))).toBeNull();
    expect(fromFrameNumber(1.5, whole(25), false)).toBeNull();
    expect(countingRate({ num: 1, den: 3 })).toBeNull();
  });
});
