import { describe, expect, test } from 'vitest';
import { backupFailed } from '../../../../src/core/advise/rules/backups.ts';
import { shelfReadOnly, volumeReadOnly } from '../../../../src/core/advise/rules/read-only.ts';
import type { Assessment, VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import { type BackupRun, newRun, withTrouble } from '../../../../src/core/backup/backup-run.ts';
import {
  type BackupOutlook,
  type BackupView,
  NO_BACKUPS,
  type ShelfState,
} from '../../../../src/core/backup/backup-view.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const HOUR = 3_600_000;
const MOUNTED_SO = { readOnly: { turnedAt: null } };

function ofVolume(volume: Partial<VolumeAssessment>, over: Partial<Assessment> = {}) {
  const assessment = sampleAssessment({ at: NOON, volumes: [sampleVolume(volume)], ...over });
  return volumeReadOnly.evaluate(assessment, THRESHOLDS);
}

/** A project whose newest footage is so many days old. */
function project(days: number) {
  const hours = [{ hour: Math.floor(NOON / HOUR) - days * 24, bytes: 1e9 }];
  return { ...NOTHING_MADE, sum: sampleSum(), multicam: [], hours };
}

describe('a volume that takes no writes', () => {
  test('is told with its place and the room that cannot be used', () => {
    expect(ofVolume(MOUNTED_SO).findings).toEqual([
      {
        kind: 'volume-read-only',
        subject: 'stripe',
        severity: 'warning',
        message: 'stripe is mounted read-only at /media/stripe: no card can be copied to it, though 1.00 TB are free.',
        figures: { availableBytes: 1e12, turnedAt: null },
        remedies: [{ action: 'Mount stripe for writing', effect: '1.00 TB can be written again' }],
      },
    ]);
    expect(ofVolume({}).findings).toEqual([]);
    expect(ofVolume({}).holds('stripe')).toBeNull();
  });

  test('one that became so under way is critical: what has no copy comes first', () => {
    const safety = { exposedBytes: 5e11, exposedClips: 12, exposedSeconds: 60, exposedSince: NOON };
    const backups = { ...NO_BACKUPS, shelves: [{ name: 'shelf-a', volumes: ['stripe'] }] } as unknown as BackupView;
    const [finding] = ofVolume({ readOnly: { turnedAt: NOON }, safety }, { backups }).findings;
    expect(finding).toMatchObject({ severity: 'critical', figures: { turnedAt: NOON } });
    expect(finding?.message).toContain('has become read-only: no card can be copied to it, though 1.00 TB are free.');
    expect(finding?.message).toContain('Keep the cards');
    expect(finding?.remedies[0]).toEqual({
      action: 'Copy from stripe first, while it can be read ("headroomd backup now")',
      effect: '500 GB have too few copies',
    });
    const [unknown] = ofVolume({ readOnly: { turnedAt: NOON }, safety: null }).findings;
    expect(unknown?.remedies[0]).toEqual({
      action: 'Copy from stripe first, while it can be read (no backup of it is configured: by hand, to another drive)',
      effect: 'what has too few copies is not known',
    });
  });

  test('one whose footage is old may be so on purpose, unless a shoot is to come', () => {
    expect(ofVolume(MOUNTED_SO, { projects: [project(29)] }).findings).toHaveLength(1);
    expect(ofVolume(MOUNTED_SO, { projects: [project(31)] }).findings).toEqual([]);
    expect(ofVolume({ readOnly: { turnedAt: NOON } }, { projects: [project(31)] }).findings).toHaveLength(1);
    const plans = [{ volume: 'stripe' }] as Assessment['plans'];
    expect(ofVolume(MOUNTED_SO, { projects: [project(31)], plans }).findings).toHaveLength(1);
  });

  test('while it is away, or its room is not known, nothing is concluded', () => {
    expect(ofVolume({ ...MOUNTED_SO, state: 'absent' }).holds('stripe')).toBe('root-not-live');
    expect(ofVolume({ capacity: null }).holds('stripe')).toBe('figure-unknown');
  });
});

describe('a shelf that takes no writes', () => {
  const shelf: ShelfState = {
    ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state: 'ready', message: null },
    ...{ lookedAt: NOON, known: null, full: null, readOnly: true },
  };
  const outlook = { lacks: [{ shelf: 'shelf-a', bytes: 5e11 }] } as Partial<BackupOutlook> as BackupOutlook;
  const trouble = (reason: 'shelf-read-only' | 'shelf-damaged') => ({
    ...{
      volume: 'stripe',
      path: 'a.mov',
      reason,
      message: 'the shelf cannot be written',
      advice: 'mount it for writing',
      code: null,
    },
  });
  const run: BackupRun = {
    ...newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON }),
    ...{ stage: 'done', endedAt: NOON },
  };
  const evaluate = (shelves: ShelfState[], runs: BackupRun[] = [], outlooks = new Map([['stripe', outlook]])) =>
    sampleAssessment({ backups: { ...NO_BACKUPS, shelves, runs, outlooks } });

  test('is told with what waits for it', () => {
    const [finding] = shelfReadOnly.evaluate(evaluate([shelf]), THRESHOLDS).findings;
    expect(finding).toMatchObject({ subject: 'shelf-a', severity: 'warning', figures: { lacksBytes: 5e11 } });
    expect(finding?.message).toContain(
      'shelf-a is read-only at /media/shelf-a: no backup can be written to it. 500 GB',
    );
    expect(finding?.remedies[0]?.effect).toBe('500 GB are copied and read back');
    const [unknown] = shelfReadOnly.evaluate(evaluate([shelf], [], new Map()), THRESHOLDS).findings;
    expect(unknown?.message).toContain('What comes next will get no copy there.');
    expect(unknown?.remedies[0]?.effect).toBe('what comes next is copied and read back');
  });

  test('is over when it can be written; of one that is away nothing is concluded', () => {
    const { readOnly: _, ...written } = shelf;
    expect(shelfReadOnly.evaluate(evaluate([written]), THRESHOLDS).holds('shelf-a')).toBeNull();
    const away = shelfReadOnly.evaluate(evaluate([{ ...shelf, state: 'shelf-absent' }]), THRESHOLDS);
    expect([away.findings, away.holds('shelf-a')]).toEqual([[], 'figure-unknown']);
  });

  test('the backup that failed for that alone is not told besides', () => {
    const failed = (runs: BackupRun[], shelves = [shelf]) =>
      backupFailed.evaluate(evaluate(shelves, runs), THRESHOLDS).findings.length;
    const readOnly = withTrouble(run, trouble('shelf-read-only'));
    expect(failed([readOnly])).toBe(0);
    expect(failed([withTrouble(readOnly, trouble('shelf-damaged'))])).toBe(1);
    const { readOnly: _, ...written } = shelf;
    expect(failed([readOnly], [written])).toBe(1);
  });
});
