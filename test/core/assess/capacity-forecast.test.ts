import { describe, expect, test } from 'vitest';
import type { CardAssessment } from '../../../src/core/assess/assessment.ts';
import { footageLeft, forecastCapacity, stillToCome } from '../../../src/core/assess/capacity-forecast.ts';
import type { ReconciledFile } from '../../../src/core/cards/reconciliation.ts';
import { HOUR_MS } from '../../../src/core/forecast/growth.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import { NOON, sampleClip } from '../samples.ts';

const GB = 1e9;
const capacity = (roomBytes: number) => ({
  space: { totalBytes: 4e12, freeBytes: roomBytes + 4e11, availableBytes: roomBytes + 4e11 },
  ...{ reserveBytes: 4e11, roomBytes },
});
const NOW = Math.floor(NOON / HOUR_MS);

describe('how long the cameras can record', () => {
  // 110 MB/s each, as clips of ten minutes.
  const clips = ['A', 'B', 'C', 'D'].map((camera) =>
    sampleClip(
      { paths: [`Lock Keepers/${camera}001.mov`], bytes: 66 * GB },
      { durationSeconds: 600, reel: `${camera}001` },
    ),
  );

  // Worked by hand: 800e9 / (4 x 110e6) and 1200e9 / (4 x 110e6).
  test('is to the reserve, and to the last byte', () => {
    const left = footageLeft(capacity(800 * GB), 0, clips, [], NOON);
    expect([left?.cameras, left?.reserveSeconds, left?.fullSeconds]).toEqual([
      4,
      expect.closeTo(1818.18, 1),
      expect.closeTo(2727.27, 1),
    ]);
  });

  test('is less by what is on its way, and by what comes with footage', () => {
    expect(footageLeft(capacity(800 * GB), 360 * GB, clips, [], NOON)?.reserveSeconds).toBeCloseTo(1000, 1);
    const hours = [
      { hour: NOW - 2, ingestBytes: 200 * GB, otherBytes: 20 * GB },
      // On a day on which no footage came it is something else.
      { hour: NOW - 40, ingestBytes: 0, otherBytes: 300 * GB },
    ];
    expect(footageLeft(capacity(800 * GB), 0, clips, hours, NOON)?.reserveSeconds).toBeCloseTo(1652.89, 1);
    expect(footageLeft(capacity(800 * GB), 900 * GB, clips, [], NOON)?.reserveSeconds).toBe(0);
  });

  test('is not known without a clip of known length; sound, proxies and renders are no cameras', () => {
    expect(footageLeft(capacity(800 * GB), 0, [], [], NOON)).toBeNull();
    expect(footageLeft(capacity(800 * GB), 0, [sampleClip({}, { durationSeconds: null })], [], NOON)).toBeNull();
    expect(footageLeft(capacity(800 * GB), 0, [sampleClip({ kind: 'proxy' })], [], NOON)).toBeNull();
  });
});

describe('what of a card is still to come', () => {
  const file = (
    verdict: ReconciledFile['verdict'],
    size: number | null,
    found = 0,
    role: ReconciledFile['role'] = 'footage',
  ) =>
    ({
      file: { path: 'x', size },
      role,
      verdict,
      found: found === 0 ? null : { size: found },
    }) as unknown as ReconciledFile;
  const card = (over: Partial<CardAssessment> = {}, volume = 'stripe') =>
    ({
      ...{ state: 'mounted', stalled: false, wasComplete: false },
      reconciliation: {
        deliveries: [{ volume, folder: 'Lock Keepers', files: 1 }],
        files: [
          ...[file('arrived', 50 * GB, 50 * GB), file('arriving', 60 * GB, 20 * GB), file('missing', 70 * GB)],
          ...[file('missing', null), file('missing', 1 * GB, 0, 'housekeeping'), file('differs', 9 * GB, 8 * GB)],
        ],
      },
      ...over,
    }) as unknown as CardAssessment;

  test('is what has not arrived of its footage, while it is being copied there', () => {
    expect(stillToCome([card()], 'stripe')).toBe(110 * GB);
    expect(stillToCome([card(), card({}, 'shelf-a')], 'shelf-a')).toBe(110 * GB);
    for (const over of [{ state: 'gone' as const }, { stalled: true }, { wasComplete: true }]) {
      expect(stillToCome([card(over)], 'stripe')).toBe(0);
    }
  });
});

test('what is moved in at once is no day of shooting', () => {
  const day = (ago: number, ingestBytes: number) => ({
    hour: NOW - 24 * ago - 3,
    ingestBytes,
    otherBytes: 0,
    deletedBytes: 0,
  });
  const hours = [1, 2, 3, 4, 5].map((ago) => day(ago, 100 * GB));
  const ask = (of: typeof hours) =>
    forecastCapacity({ at: NOON, capacity: capacity(2e12), hours: of, planned: [], draws: () => seededDraws(0.5) });
  const plain = ask(hours);
  const moved = ask([...hours, day(9, 2e12)]);
  expect([plain.shootDays, moved.shootDays]).toEqual([5, 5]);
  expect(moved.shootDayBytes / plain.shootDayBytes).toBeCloseTo(1, 1);
  // Alone it is no history; on a small volume that every day fills by half, it is what a day is.
  expect(ask([day(9, 2e12)]).basis).toBe('not-enough-history');
  expect(ask([1, 2, 3, 4].map((ago) => day(ago, 2e12))).shootDays).toBe(4);
});

test('what was in use is what is, less what came since, with what was deleted since', () => {
  const hour = (ago: number, ingestBytes: number, otherBytes = 0, deletedBytes = 0) => {
    return { hour: NOW - ago, ingestBytes, otherBytes, deletedBytes };
  };
  const hours = [hour(2, 100 * GB), hour(30, 50 * GB, -10 * GB), hour(60, 0, 0, 700 * GB)];
  const asked = { at: NOON, capacity: capacity(1.6e12), hours, planned: [], draws: () => seededDraws(0.5) };
  // 2 TB are in use.
  expect(forecastCapacity(asked).history).toEqual([
    { daysAgo: 3, usedBytes: 2.56e12 },
    { daysAgo: 2, usedBytes: 1.86e12 },
    { daysAgo: 1, usedBytes: 1.9e12 },
  ]);
});

describe('a shoot plan that lies beyond what is looked ahead', () => {
  const planned = (daysAhead: number) => [
    {
      project: 'Lock Keepers',
      days: [{ fromHour: NOW + 24 * daysAhead, toHour: NOW + 24 * daysAhead + 12, bytes: 1e12 }],
    },
  ];
  const of = (daysAhead: number) =>
    forecastCapacity({
      ...{ at: NOON, capacity: capacity(2e12), hours: [], planned: planned(daysAhead), draws: () => seededDraws(0.5) },
    });

  test('is no ground to tell a date, and is not named as one', () => {
    expect(of(96)).toMatchObject({ basis: 'not-enough-history', planned: false, reserve: null, band: null });
    expect(of(10)).toMatchObject({ basis: 'early-estimate', planned: true });
  });
});
