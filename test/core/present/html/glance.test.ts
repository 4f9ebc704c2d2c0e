import { describe, expect, test } from 'vitest';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import { glanceHtml } from '../../../../src/core/present/html/glance.ts';
import { snapshot } from '../../../../src/core/present/snapshot.ts';
import type { VolumeSnapshot } from '../../../../src/core/present/snapshot-volume.ts';
import { sampleAssessment, sampleVolume } from '../../samples.ts';
import { CONTEXT } from '../hostile.ts';

const AT = '2027-03-04T12:00:00.000+00:00';

function volume(over: Partial<VolumeAssessment> = {}): VolumeSnapshot {
  const [one] = snapshot(sampleAssessment({ volumes: [sampleVolume(over)] }), [], CONTEXT).volumes;
  if (one === undefined) throw new Error('there is one');
  return one;
}

function said(one: VolumeSnapshot): string {
  return glanceHtml(one, AT)
    .replace(/<[^>]*>/g, '')
    .replace(/\s+/g, ' ');
}

describe('the three headrooms of a volume, in one sentence', () => {
  test('with enough of each', () => {
    // 300 of 420 MB/s: 28.57 % are left; 1 TB available, 400 GB kept free.
    expect(said(volume())).toBe(
      'stripe: 29 % of its speed to spare; 600 GB of room until its reserve; nothing waits for a copy, as far as is known.',
    );
  });

  test('with too little of each it says how much, and marks it by more than a colour', () => {
    const short = volume({
      speed: { ...sampleVolume().speed, demandBps: 550e6 },
      capacity: {
        space: { totalBytes: 4e12, freeBytes: 2e11, availableBytes: 2e11 },
        reserveBytes: 4e11,
        roomBytes: -2e11,
      },
      safety: { exposedBytes: 6e10, exposedClips: 12, exposedSeconds: 3600, exposedSince: 0 },
    });
    expect(said(short)).toBe(
      'stripe: ! 130 MB/s too much is asked of it; ! 200 GB left, and its reserve is in use; ! 60.0 GB without enough verified copies, and no backup is configured.',
    );
    const night = {
      bytes: 6e10,
      seconds: 30_000,
      windowSeconds: 21_600,
      fits: false,
      nightBytes: 4e10,
      nights: 2,
      bytesPerDay: 0,
    };
    const covered = { ...short, safety: { ...short.safety, hasBackup: true } };
    expect(said(covered)).toContain('; 60.0 GB without enough verified copies.');
    const late = { ...covered, safety: { ...covered.safety, nights: [night] } };
    expect(said(late)).toContain('! 60.0 GB without enough verified copies.');
    expect(glanceHtml(late, AT)).toContain('what is left to copy, against the window of its night');
  });

  test('what is not known is said to be', () => {
    const unknown = volume({ speed: { ...sampleVolume().speed, readBudgetBps: null }, capacity: null, safety: null });
    expect(said(unknown)).toBe(
      'stripe: not known how fast it is; not known how much room it has; ! not known what has copies.',
    );
    const idle = volume({ speed: { ...sampleVolume().speed, demandBps: null } });
    expect(said(idle)).toContain('420 MB/s may be asked for, and nothing is known to need it;');
  });

  test('room is told by date where there is one, else by the time that can be recorded', () => {
    const one = volume({ footageLeft: { reserveSeconds: 19_200, fullSeconds: 30_000, cameras: 2, bps: 2e8 } });
    expect(said(one)).toContain('5 h 20 min of recording until its reserve;');
    const overrun = {
      ...{
        at10: null,
        at50: '2027-03-06T10:00:00.000+00:00',
        at90: null,
        within24h: 0.1,
        within72h: 0.6,
        within7d: 0.9,
      },
      ...{ basis: 'shoot-days-seen', shootDays: 9, shootDayBytes: 1e11, planned: false, band: [] },
      ...{ fullAt10: null, fullAt50: null, fullAt90: null, withoutPlanAt50: null },
    };
    const dated = { ...one, capacity: { ...one.capacity, overrun } };
    expect(said(dated)).toContain('! until about Sat 6 Mar before its reserve is reached;');
    const later = { ...dated, capacity: { ...dated.capacity, overrun: { ...overrun, within72h: 0.2 } } };
    expect(said(later)).toContain('; until about Sat 6 Mar before its reserve is reached;');
  });

  test('of a volume that is away it says so first, and of each figure that it is old', () => {
    const away = said(volume({ state: 'absent', stateDetail: 'no such folder', stale: true }));
    expect(away).toMatch(/^stripe It is not there now \(no such folder\)/);
    expect(away).toContain('stripe: ! 29 % of its speed to spare, when it was last seen; ! 600 GB of room');
  });
});
