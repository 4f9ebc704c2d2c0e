import { describe, expect, test } from 'vitest';
import { linkOf } from '../../../src/core/assess/link-rates.ts';
import { streamShare } from '../../../src/core/assess/stream-share.ts';
import { type SpeedKnowledge, volumeGives } from '../../../src/core/assess/volume-speed.ts';
import { LINKS } from '../../../src/settings/layout.ts';

const NOW = 1_804_161_600_000;
const NOTHING: SpeedKnowledge = { declared: null, layout: null, filled: null, read: [], write: [], points: [] };
const DISKS = { level: '0', members: 4, drive: 'hdd', link: null } as const;

describe('what a volume gives', () => {
  test('of nothing known nothing is told; of one direction neither', () => {
    expect(volumeGives(NOTHING, NOW)).toBeNull();
    const read = [{ bps: 5e8, source: 'benchmark', at: NOW } as const];
    expect(volumeGives({ ...NOTHING, read }, NOW)).toBeNull();
    expect(volumeGives({ ...NOTHING, read, write: read }, NOW)?.read.likely).toBeCloseTo(5e8, 3);
  });

  test('a declared speed is told as it is', () => {
    const gives = volumeGives({ ...NOTHING, declared: { readBps: 6e8, writeBps: 5e8 }, layout: DISKS }, NOW);
    expect(gives?.read).toMatchObject({ likely: expect.closeTo(6e8, 3), basis: 'declared' });
    expect(gives?.write.likely).toBeCloseTo(5e8, 3);
    expect(gives?.drive).toBe('hdd');
  });

  // From memory: a rotating disk's innermost tracks read at about half the speed of its outermost.
  test('rotating drives get slower as they fill', () => {
    const at = (filled: number | null) => volumeGives({ ...NOTHING, layout: DISKS, filled }, NOW)?.read.likely ?? 0;
    expect(at(1) / at(0)).toBeCloseTo(0.5, 9);
    expect(at(null)).toBe(at(0));
    const flash = { ...DISKS, drive: 'ssd' } as const;
    expect(volumeGives({ ...NOTHING, layout: flash, filled: 1 }, NOW)).toEqual(
      volumeGives({ ...NOTHING, layout: flash, filled: 0 }, NOW),
    );
  });
});

describe('several streams side by side', () => {
  const points = [
    { streams: 9, readBps: 200 },
    { streams: 1, readBps: 500 },
    { streams: 4, readBps: 400 },
  ];
  test.each([
    [1, 1],
    [2, 500 - 100 / 3],
    [4, 400],
    [6, 320],
    [9, 200],
    [30, 200],
  ])('%i, as measured', (streams, bps) => {
    expect(streamShare(streams, points, 'hdd')).toBeCloseTo(streams === 1 ? 1 : bps / 500, 9);
  });

  test('without a measurement flash gives as much as to one, and disks much less', () => {
    expect(streamShare(9, [], 'nvme')).toBe(1);
    expect(streamShare(9, [], null)).toBe(1);
    expect(streamShare(1, [], 'hdd')).toBe(1);
    expect(streamShare(9, [], 'hdd')).toBeLessThan(0.4);
    // Points without one stream alone cannot be compared with it.
    expect(streamShare(9, [{ streams: 4, readBps: 1 }], 'ssd')).toBe(1);
  });
});

describe('links', () => {
  test.each(LINKS)('%s is known', (name) => expect(linkOf(name)?.bps).toBeGreaterThan(1e8));
  test('no other is', () => {
    expect(linkOf('string')).toBeNull();
    expect(linkOf(null)).toBeNull();
  });

  // Signalling rate times line coding: what no payload can exceed. IEEE 802.3 (MAC rates), SATA 3 (6 Gb/s, 8b/10b), USB 3.2 (8b/10b;
  // 128b/132b), PCI Express 3.0 (8 GT/s, 128b/130b); by arithmetic.
  test.each([
    ['sata', (6e9 * 8) / 10 / 8],
    ['usb-5g', (5e9 * 8) / 10 / 8],
    ['usb-10g', (10e9 * 128) / 132 / 8],
    ['usb-20g', (20e9 * 128) / 132 / 8],
    ['pcie-2-x4', (4 * 5e9 * 8) / 10 / 8],
    ['pcie-3-x4', (4 * 8e9 * 128) / 130 / 8],
    ['pcie-4-x4', (4 * 16e9 * 128) / 130 / 8],
    ['pcie-5-x4', (4 * 32e9 * 128) / 130 / 8],
    ['10gbe', 10e9 / 8],
    ['100gbe', 100e9 / 8],
  ])('%s stays below its ceiling, and not far below', (name, ceiling) => {
    const bps = linkOf(name)?.bps ?? 0;
    expect(bps).toBeLessThanOrEqual(ceiling);
    expect(bps).toBeGreaterThan(0.8 * ceiling);
  });
});
