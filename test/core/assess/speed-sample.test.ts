import { expect, test } from 'vitest';
import { believedRate } from '../../../src/core/assess/speed-belief.ts';
import {
  measureBytes,
  pointsOf,
  quantileOf,
  ROOM_TO_MEASURE,
  readSample,
  type SpeedSample,
  sampleEvidence,
} from '../../../src/core/assess/speed-sample.ts';

const NOON = 1_804_161_600_000;
const SAMPLE: SpeedSample = {
  volume: 'stripe',
  at: NOON,
  method: 'direct',
  readBps: 1000e6,
  writeBps: 800e6,
  streams: [
    { streams: 1, readBps: 700e6, p50Ms: 1, p99Ms: 2 },
    { streams: 9, readBps: 600e6, p50Ms: 9, p99Ms: 30 },
  ],
  bytes: 8e9,
  requestBytes: 1_048_576,
  idle: true,
};

test('half of the room above the reserve at most, in whole steps, and not so little that it tells nothing', () => {
  expect(measureBytes(1e12)).toBe(Math.floor(32e9 / 4_194_304) * 4_194_304);
  expect(measureBytes(4e9)).toBe(Math.floor(2e9 / 4_194_304) * 4_194_304);
  expect(measureBytes(1e12, 1e9)).toBe(Math.floor(1e9 / 4_194_304) * 4_194_304);
  expect(measureBytes(ROOM_TO_MEASURE * 0.99)).toBeNull();
  expect(measureBytes(-5)).toBeNull();
  expect(measureBytes(1e12, 1e6)).toBeNull();
});

// R's default ("type 7") and that of NumPy: quantiles of 1 to 10 at .5, .9 and .99 are 5.5, 9.1 and 9.91.
test('quantiles as statistics packages have them', () => {
  const ten = [7, 3, 1, 10, 2, 4, 5, 6, 9, 8];
  expect(quantileOf(ten, 0.5)).toBeCloseTo(5.5, 12);
  expect(quantileOf(ten, 0.9)).toBeCloseTo(9.1, 12);
  expect(quantileOf(Float64Array.from(ten), 0.99)).toBeCloseTo(9.91, 12);
  expect(quantileOf([4], 0.99)).toBe(4);
  expect(quantileOf([], 0.5)).toBeNaN();
});

test('a sample of an idle volume is a benchmark; of a busy one it says what is possible at least', () => {
  expect(sampleEvidence([SAMPLE])).toEqual({
    read: [{ bps: 1000e6, source: 'benchmark', at: NOON }],
    write: [{ bps: 800e6, source: 'benchmark', at: NOON }],
  });
  expect(sampleEvidence([{ ...SAMPLE, idle: false, writeBps: 0 }])).toEqual({
    read: [{ bps: 1000e6, source: 'reached', at: NOON }],
    write: [],
  });
});

test('where memory may have answered the drives read at least what they wrote, and at most what was read', () => {
  const unsure: SpeedSample = { ...SAMPLE, method: 'dropped' };
  const { read, write } = sampleEvidence([unsure]);
  expect(write).toEqual([{ bps: 800e6, source: 'benchmark', at: NOON }]);
  const believed = believedRate(read, NOON);
  expect(believed?.basis).toBe('measured');
  // Four in five, with what a measurement is off by itself: a little beyond both.
  expect(believed?.low).toBeGreaterThan(760e6);
  expect(believed?.low).toBeLessThan(800e6);
  expect(believed?.high).toBeGreaterThan(1000e6);
  expect(believed?.high).toBeLessThan(1060e6);
  expect(sampleEvidence([{ ...unsure, idle: false }]).read).toEqual([{ bps: 800e6, source: 'reached', at: NOON }]);
  // What was read more slowly than written was slow for everybody.
  expect(sampleEvidence([{ ...unsure, readBps: 500e6 }]).read).toEqual([{ bps: 500e6, source: 'benchmark', at: NOON }]);
});

test('several streams are those of the newest sample, beside its single stream', () => {
  const newer = { ...SAMPLE, at: NOON + 1, readBps: 900e6 };
  const points = [
    { streams: 1, readBps: 900e6 },
    { streams: 9, readBps: 600e6 },
  ];
  expect(pointsOf([SAMPLE, newer])).toEqual(points);
  expect(pointsOf([newer, SAMPLE])).toEqual(points);
  expect(pointsOf([{ ...newer, idle: false }])).toEqual([]);
  expect(pointsOf([{ ...newer, method: 'dropped' }])).toEqual([]);
  expect(pointsOf([])).toEqual([]);
});

test('what comes over the wire is a sample, or nothing', () => {
  expect(readSample(JSON.parse(JSON.stringify(SAMPLE)))).toEqual(SAMPLE);
  const wrong: object[] = [
    { volume: 7 },
    { idle: 'yes' },
    { method: 'guessed' },
    { readBps: -1 },
    { writeBps: null },
    { at: Number.NaN },
    { streams: 'many' },
    { streams: [{ streams: 1 }] },
  ];
  for (const over of wrong) expect(readSample({ ...SAMPLE, ...over })).toBeNull();
  for (const told of [null, 3, 'x', []]) expect(readSample(told)).toBeNull();
});
