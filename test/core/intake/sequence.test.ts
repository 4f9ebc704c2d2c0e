import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { type Frame, frameOf, isSequence, missingFrames, sequenceName } from '../../../src/core/intake/sequence.ts';

const frames = (pattern: (number: number) => string, numbers: number[]): Frame[] =>
  numbers.map((number) => frameOf(pattern(number))).filter((frame) => frame !== null);
const pad = (number: number, digits: number) => String(number).padStart(digits, '0');
const count = (length: number, first = 1) => Array.from({ length }, (_, index) => first + index);

describe('numbered frames', () => {
  test.each([
    ['reel/scan_0086880.dpx', { dir: 'reel', prefix: 'scan_', digits: 7, number: 86880, suffix: '.dpx' }],
    ['beach.0001.exr', { dir: '', prefix: 'beach.', digits: 4, number: 1, suffix: '.exr' }],
    // The LAST run of four digits or more counts: the rule for raw frame sequences.
    [
      'A001C006_141024_R2EC_0001.DNG',
      { dir: '', prefix: 'A001C006_141024_R2EC_', digits: 4, number: 1, suffix: '.DNG' },
    ],
    ['shot0001.png', null],
    ['shots0001.png', { dir: '', prefix: 'shots', digits: 4, number: 1, suffix: '.png' }],
    ['scan_0001_left.dpx', { dir: '', prefix: 'scan_', digits: 4, number: 1, suffix: '_left.dpx' }],
    ['A001_000012_v2.dng', { dir: '', prefix: 'A001_', digits: 6, number: 12, suffix: '_v2.dng' }],
    ['DSC_0001-HDR.dng', null],
    ['IMG_00012.png', { dir: '', prefix: 'IMG_', digits: 5, number: 12, suffix: '.png' }],
    ['frame_00012 copy.png', null],
    ['0001.dpx', { dir: '', prefix: '', digits: 4, number: 1, suffix: '.dpx' }],
  ])('%s', (path, frame) => {
    expect(frameOf(path)).toEqual(frame);
  });

  // CIPA DC-009 (DCF): four free characters and four digits (from memory).
  test.each(['DSC_0001.JPG', 'IMG_1234.PNG', 'GOPR0002.JPG', 'DJI_0001.DNG'])('%s is a camera still', (name) => {
    expect(frameOf(name)).toBe(null);
  });

  test.each(['A001.mov', 'take0001.wav', 'scan_001.dpx', 'scan.dpx', `scan_${'1'.repeat(16)}.dpx`])(
    '%s is none',
    (name) => {
      expect(frameOf(name)).toBe(null);
    },
  );
});

describe('how many make a sequence', () => {
  const dpx = (number: number) => `a_${pad(number, 6)}.dpx`;
  const jpg = (number: number) => `lapse_${pad(number, 6)}.jpg`;
  const dng = (number: number) => `A001_${pad(number, 6)}.dng`;
  test.each([
    ['three film frames', frames(dpx, [1, 2, 3]), true],
    ['two film frames', frames(dpx, [1, 2]), false],
    ['film frames with most missing', frames(dpx, [1, 50, 900]), true],
    ['23 stills', frames(jpg, count(23)), false],
    ['24 stills', frames(jpg, count(24)), true],
    [
      '24 stills named by the time of day',
      frames(
        jpg,
        count(24).map((index) => 120000 + index * 37),
      ),
      false,
    ],
    ['three raw frames', frames(dng, [5, 6, 7]), true],
    ['three raw photographs far apart', frames(dng, [5, 600, 7000]), false],
    ['none', [], false],
  ])('%s', (_name, given, expected) => {
    expect(isSequence(given)).toBe(expected);
  });
});

test('the name shows first and last as written', () => {
  const given = frames((number) => `reel/scan_${pad(number, 4)}.DPX`, [24, 1, 7]);
  expect(sequenceName(given)).toBe('scan_[0001-0024].DPX');
});

describe('missing frames', () => {
  test('as ranges, in any order', () => {
    expect(missingFrames([1, 2, 9, 5])).toEqual([
      { first: 3, last: 4 },
      { first: 6, last: 8 },
    ]);
    expect(missingFrames([3, 1, 2])).toEqual([]);
  });

  test('present and missing together are the whole range', () => {
    fc.assert(
      fc.property(fc.uniqueArray(fc.integer({ min: 0, max: 300 }), { minLength: 1 }), (numbers) => {
        const missing = missingFrames(numbers).flatMap(({ first, last }) => count(last - first + 1, first));
        const first = Math.min(...numbers);
        expect([...numbers, ...missing].sort((a, b) => a - b)).toEqual(count(Math.max(...numbers) - first + 1, first));
      }),
    );
  });

  test('200,000 frames', () => {
    const given = frames((number) => `a_${pad(number, 7)}.dpx`, count(200_000));
    expect(isSequence(given)).toBe(true);
    expect(sequenceName(given)).toBe('a_[0000001-0200000].dpx');
  });
});
