import { describe, expect, test } from 'vitest';
import { type Access, type ArrayLevel, dataMembers, shareOfStripe } from '../../../src/core/assess/array-level.ts';
import { halfTurnSeconds, interleavedBps, visitedBps } from '../../../src/core/assess/disk-time.ts';
import { expectedSpeed, type SpeedLayout } from '../../../src/core/assess/expected-speed.ts';
import { budgetChecks } from './budget-checks.ts';

const MB = 1_000_000;

describe('a busy array beside a stripe', () => {
  // Chen et al. 1994, Table 3, page 157, for G members: small read, small write, large read, large write, storage efficiency.
  const table: [ArrayLevel, (G: number) => [number, number, number, number, number]][] = [
    ['0', () => [1, 1, 1, 1, 1]],
    ['1', () => [1, 1 / 2, 1, 1 / 2, 1 / 2]],
    ['5', (G) => [1, Math.max(1 / G, 1 / 4), 1, (G - 1) / G, (G - 1) / G]],
    ['6', (G) => [1, Math.max(1 / G, 1 / 6), 1, (G - 2) / G, (G - 2) / G]],
  ];
  test.each(table)('level %s, as the table has it', (level, row) => {
    for (const G of level === '1' ? [2] : [4, 5, 8, 16]) {
      const [smallRead, smallWrite, largeRead, largeWrite, room] = row(G);
      const of = (access: Access) => shareOfStripe(level, G, access);
      expect([of('small-read'), of('small-write'), of('large-read'), of('large-write')]).toEqual([
        ...[smallRead, smallWrite, largeRead, largeWrite],
      ]);
      expect(dataMembers(level, G) / G).toBeCloseTo(room, 12);
    }
  });

  // "Operating Systems: Three Easy Pieces", chapter 38, summary table: sequential throughput in disks of N = 8.
  test.each<[ArrayLevel, number]>([
    ['0', 8],
    ['10', 4],
    ['4', 7],
    ['5', 7],
  ])('level %s reads one long stream from %i of eight', (level, disks) => expect(dataMembers(level, 8)).toBe(disks));

  test('the parity member of level 4 gives no data, and is part of every small write', () => {
    // The same chapter: small writes of level 4 are R/2 in all, whatever N is.
    expect(8 * shareOfStripe('4', 8, 'small-write')).toBe(1 / 2);
    expect(8 * shareOfStripe('4', 8, 'small-read')).toBe(7);
    expect(shareOfStripe('single', 1, 'small-write')).toBe(1);
  });
});

describe('a rotating disk', () => {
  // "Operating Systems: Three Easy Pieces", chapter 37, Figures 37.5 and 37.6: random reads of 4 KB, MB/s.
  test.each([
    ['15,000 rpm', { seekSeconds: 0.004, rpm: 15_000, transferBps: 125 * MB }, 0.66],
    ['7,200 rpm', { seekSeconds: 0.009, rpm: 7200, transferBps: 105 * MB }, 0.31],
  ])('%s: small random reads as printed', (_name, disk, printed) => {
    expect(visitedBps(disk, 4096) / MB / printed).toBeGreaterThan(0.96);
    expect(visitedBps(disk, 4096) / MB / printed).toBeLessThan(1.04);
    expect(visitedBps(disk, 100 * MB) / disk.transferBps).toBeGreaterThan(0.98);
    expect(visitedBps(disk, Number.POSITIVE_INFINITY)).toBe(disk.transferBps);
  });

  // Chapter 38, worked example: seek 7 ms, rotation 3 ms, 50 MB/s; S = 47.62 MB/s for 10 MB, R = 0.981 MB/s for 10 KB.
  test('sequential and random rate of the worked example', () => {
    const disk = { seekSeconds: 0.007, rpm: 10_000, transferBps: 50 * MB };
    expect(visitedBps(disk, 10 * MB) / MB).toBeCloseTo(47.62, 2);
    expect(visitedBps(disk, 10_000) / MB).toBeCloseTo(0.98, 2);
  });

  test.each([
    [5400, 5.5556],
    [7200, 4.1667],
    [15_000, 2],
  ])('half a turn at %i rpm is %f ms', (rpm, ms) => expect(halfTurnSeconds(rpm) * 1000).toBeCloseTo(ms, 4));

  // Arithmetic of positioning plus transfer: 8.5 ms of seek, 7,200 rpm, 200 MB/s under the head, many streams side by side.
  test.each([
    [0.0625, 5.04],
    [1, 58.55],
    [4, 124.69],
    [16, 173.76],
  ])('many streams, %f MiB at a visit: %f MB/s in all', (mebibytes, mbps) => {
    const disk = { seekSeconds: 0.0085, rpm: 7200, transferBps: 200 * MB };
    const bytes = mebibytes * 1_048_576;
    expect(interleavedBps(disk, 9, bytes) / MB).toBeCloseTo(mbps, 2);
    expect(interleavedBps(disk, 1, bytes)).toBe(disk.transferBps);
    expect(interleavedBps(disk, 2, bytes)).toBeGreaterThan(interleavedBps(disk, 9, bytes));
  });
});

describe('what a volume can be expected to give', () => {
  const flash = (members: number, level: ArrayLevel = members === 1 ? 'single' : '0'): SpeedLayout => {
    return { level, members, drive: 'ssd', link: null };
  };
  const of = (layout: SpeedLayout) => {
    const { readBps, writeBps } = expectedSpeed(layout);
    return [readBps / MB, writeBps / MB];
  };

  test.each(budgetChecks())('$name ($source)', ({ value, least, most }) => {
    expect(value).toBeGreaterThanOrEqual(least);
    expect(value).toBeLessThanOrEqual(most);
  });

  test('a member gives no more than its own link', () => {
    expect(of({ ...flash(1), each: 280 * MB })[0]).toBeCloseTo(280 * 0.92, 6);
    expect(of({ ...flash(1), each: null })).toEqual(of(flash(1)));
  });

  test('a link that all share caps them, whatever they are', () => {
    const tenGigabit = { bps: 1175 * MB, lanes: false };
    expect(of({ ...flash(8), link: tenGigabit })).toEqual([1175 * 0.95, 1175 * 0.95]);
    expect(of({ ...flash(1), link: tenGigabit })).toEqual(of(flash(1)));
  });
});
