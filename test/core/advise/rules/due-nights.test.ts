import { describe, expect, test } from 'vitest';
import { backupMissed } from '../../../../src/core/advise/rules/backup-missed.ts';
import { backupFailed } from '../../../../src/core/advise/rules/backups.ts';
import { shelfAbsent } from '../../../../src/core/advise/rules/shelf-absent.ts';
import { newRun } from '../../../../src/core/backup/backup-run.ts';
import { type BackupOutlook, NO_BACKUPS, type ShelfState } from '../../../../src/core/backup/backup-view.ts';
import type { DueNight } from '../../../../src/core/backup/due-nights.ts';
import { NOON, sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const HOUR = 3_600_000;
/** 04:00 on the day of `NOON`, 2027-03-04; the window was over at ten. */
const NIGHT = NOON - 8 * HOUR;
const DUE: DueNight = {
  ...{ shelf: 'shelf-a', isThere: false, lacksBytes: 5e11, missed: { first: NIGHT, last: NIGHT } },
  ...{ windowEndsAt: NIGHT + 6 * HOUR, nextAt: NIGHT + 24 * HOUR, wait: 'shelf-absent' },
};
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state: 'shelf-absent' },
  ...{ message: 'shelf-a is not there: /media/shelf-a does not exist.', lookedAt: NOON, full: null },
  known: { id: 'id-a', name: 'shelf-a', drive: 'd1', seenAt: NOON - 50 * HOUR, totalBytes: 8e12, freeBytes: 1e12 },
};

function assessed(due: Partial<DueNight>, shelf: Partial<ShelfState> = {}, exposedHours = 9) {
  const outlook: BackupOutlook = {
    ...{ next: null, wait: null, exposedTbHours: null, lacks: [], nights: [], loss: null, due: [{ ...DUE, ...due }] },
  };
  const safety = { exposedBytes: 5e11, exposedClips: 9, exposedSeconds: 60, exposedSince: NOON - exposedHours * HOUR };
  const backups = { ...NO_BACKUPS, shelves: [{ ...SHELF, ...shelf }], outlooks: new Map([['stripe', outlook]]) };
  return sampleAssessment({ at: NOON, volumes: [sampleVolume({ safety })], backups });
}
const absent = (...args: Parameters<typeof assessed>) => shelfAbsent.evaluate(assessed(...args), THRESHOLDS);
const missed = (...args: Parameters<typeof assessed>) => backupMissed.evaluate(assessed(...args), THRESHOLDS);

describe('a shelf that is away when its backup is due', () => {
  test('is told with the night, what waits, and when it was last seen', () => {
    const [finding] = absent({}).findings;
    expect(finding).toMatchObject({ subject: 'stripe/shelf-a', severity: 'warning' });
    expect(finding?.message).toBe(
      'shelf-a was not ready for the backup of stripe on 2027-03-04 04:00. 500 GB wait for it. shelf-a is not there: /media/shelf-a does not exist.',
    );
    expect(finding?.remedies[0]).toEqual({
      action: 'Mount shelf-a',
      effect: 'what it lacks is copied at once and read back (it was last seen 2 days ago)',
    });
    const [longer] = absent({ missed: { first: NIGHT - 48 * HOUR, last: NIGHT } }).findings;
    expect(longer?.message).toContain('on 2027-03-04 04:00 and has not been since 2027-03-02 04:00. 500 GB wait');
    expect(absent({ lacksBytes: null }, { known: null }).findings[0]?.message).toContain('What it lacks waits.');
  });

  test('is a notice in the evening before, while there is time to fetch it', () => {
    const [finding] = absent({ missed: null, windowEndsAt: null, nextAt: NOON + 8 * HOUR }).findings;
    expect(finding?.severity).toBe('notice');
    expect(finding?.message).toContain(
      'shelf-a is not ready for the backup of stripe on 2027-03-04 20:00. 500 GB wait',
    );
    const early = absent({ missed: null, windowEndsAt: null, nextAt: NOON + 9 * HOUR });
    expect([early.findings, early.holds('stripe/shelf-a')]).toEqual([[], 'between-thresholds']);
  });

  test('so is one that is there and cannot be used, in its own words', () => {
    const message = 'nothing is mounted at /media/shelf-a, and a folder there would fill the drive around it.';
    const [finding] = absent({}, { state: 'shelf-unmarked', message }).findings;
    expect(finding?.message).toContain('500 GB wait for it. Nothing is mounted at /media/shelf-a, and');
    expect(finding?.remedies[0]?.action).toBe('Put that right, so that shelf-a can be used');
  });

  test('is no news where it leaves the building, lacks nothing, or is there; a few minutes are none', () => {
    expect(absent({}, { rotate: true }).holds('stripe/shelf-a')).toBeNull();
    expect(absent({ lacksBytes: 0 }).holds('stripe/shelf-a')).toBeNull();
    expect(absent({ isThere: true }, { state: 'ready' }).holds('stripe/shelf-a')).toBeNull();
    const late = absent({ missed: { first: NOON - 9 * 60_000, last: NOON - 9 * 60_000 } });
    expect([late.findings, late.holds('stripe/shelf-a')]).toEqual([[], 'between-thresholds']);
  });

  test('is told once: not anew when footage is told to be exposed for long, and not as a backup that failed', () => {
    const long = absent({}, {}, 36);
    expect([long.findings, long.holds('stripe/shelf-a')]).toEqual([[], 'between-thresholds']);
    const why = { reason: 'shelf-absent' as const, message: 'shelf-a is not there.' };
    const run = { ...newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON }), why };
    const failed = (due: Partial<DueNight>) => {
      const assessment = assessed(due);
      const runs = [{ ...run, stage: 'refused' as const, endedAt: NOON }];
      return backupFailed.evaluate({ ...assessment, backups: { ...assessment.backups, runs } }, THRESHOLDS).findings;
    };
    expect(failed({})).toEqual([]);
    expect(failed({ missed: null })).toHaveLength(1);
  });

  test('while shelves were not looked at nothing is concluded', () => {
    expect(absent({}, { state: null }).holds('stripe/shelf-a')).toBe('figure-unknown');
    const started = sampleAssessment({ backups: { ...NO_BACKUPS, shelves: [SHELF] } });
    expect(shelfAbsent.evaluate(started, THRESHOLDS).holds('stripe/shelf-a')).toBe('root-not-live');
    expect(backupMissed.evaluate(started, THRESHOLDS).holds('stripe/shelf-a')).toBe('root-not-live');
  });
});

describe('a night without a backup, though its shelf is there', () => {
  const THERE = { isThere: true, wait: 'playback' } as const;

  test('is told when its window is over, with what kept it', () => {
    const [finding] = missed(THERE).findings;
    expect(finding).toMatchObject({ subject: 'stripe/shelf-a', severity: 'warning', figures: { reason: 'playback' } });
    expect(finding?.message).toBe(
      'The backup of stripe to shelf-a on 2027-03-04 04:00 has not begun, and its window is over: playback needed what the volume gives. 500 GB wait.',
    );
    expect(finding?.remedies[0]?.effect).toBe('500 GB are copied and read back');
    expect(missed({ ...THERE, wait: 'volume-saturated', lacksBytes: null }).findings[0]?.message).toContain(
      'others asked for all that the volume gives. What it lacks waits.',
    );
  });

  test('not while the window goes on, one may begin, or others tell of it', () => {
    const held = (due: Partial<DueNight>) => missed({ ...THERE, ...due }).holds('stripe/shelf-a');
    expect(held({ windowEndsAt: NOON + 1 })).toBe('judged-again');
    expect(held({ wait: null })).toBe('judged-again');
    expect(held({ wait: 'waits-to-retry' })).toBe('judged-again');
    expect(held({ isThere: false })).toBe('judged-again');
  });

  test('is over when it was made up for, or nothing is lacking', () => {
    const held = (due: Partial<DueNight>) => missed({ ...THERE, ...due }).holds('stripe/shelf-a');
    expect(held({ missed: null, windowEndsAt: null })).toBeNull();
    expect(held({ lacksBytes: 0 })).toBeNull();
  });
});
