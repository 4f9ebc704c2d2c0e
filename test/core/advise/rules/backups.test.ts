import { describe, expect, test } from 'vitest';
import { backupFailed } from '../../../../src/core/advise/rules/backups.ts';
import { type BackupRun, newRun } from '../../../../src/core/backup/backup-run.ts';
import { type BackupView, NO_BACKUPS, type ShelfState } from '../../../../src/core/backup/backup-view.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const RUN = {
  ...newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON }),
  ...{ stage: 'done' as const, endedAt: NOON },
};
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: true, state: 'shelf-absent', message: 'm', lookedAt: NOON },
  known: null,
  ...{ volumes: ['stripe'], full: null },
};
const evaluate = (rule: typeof backupFailed, run: Partial<BackupRun>, over: Partial<BackupView> = {}) =>
  rule.evaluate(sampleAssessment({ backups: { ...NO_BACKUPS, runs: [{ ...RUN, ...run }], ...over } }), THRESHOLDS);
const trouble = {
  ...{ reason: 'shelf-full' as const, path: 'a', message: 'shelf-a has no room for a (80.0 MB)', code: null },
  advice: 'make room on the shelf, or use a larger one',
};

describe('a backup that did not go well', () => {
  test('says what happened and what to do', () => {
    const why = { reason: 'shelf-absent' as const, message: 'shelf-a is not there: /media/shelf-a does not exist.' };
    const [refused] = evaluate(backupFailed, { stage: 'refused', why }).findings;
    expect(refused).toMatchObject({ subject: 'stripe/shelf-a', severity: 'warning' });
    expect(refused?.message).toBe(
      'The last backup of stripe to shelf-a was not begun: shelf-a is not there: /media/shelf-a does not exist.',
    );
    expect(refused?.remedies[0]?.action).toBe('Put that right, then run "headroomd backup now shelf-a"');
    const [broken] = evaluate(backupFailed, {
      stage: 'broken',
      why: { reason: 'no-answer', message: 'nothing moved.' },
    }).findings;
    expect(broken?.message).toBe('The last backup of stripe to shelf-a broke off: nothing moved.');
    const [left] = evaluate(backupFailed, { failures: 2, troubles: [trouble] }).findings;
    expect(left?.message).toBe(
      'The last backup of stripe to shelf-a left 2 files behind, first: shelf-a has no room for a (80.0 MB).',
    );
    expect(left?.remedies[0]?.action).toMatch(/^Make room on the shelf, or use a larger one, then run/);
  });

  test('nothing of one that went well, was stopped, or of a shelf that leaves the building', () => {
    expect(evaluate(backupFailed, {}).findings).toEqual([]);
    expect(evaluate(backupFailed, { stage: 'stopped' }).findings).toEqual([]);
    const why = { reason: 'shelf-absent' as const, message: 'm' };
    expect(evaluate(backupFailed, { stage: 'refused', why }, { shelves: [SHELF] }).findings).toEqual([]);
    expect(
      evaluate(backupFailed, { stage: 'refused', why }, { shelves: [{ ...SHELF, rotate: false }] }).findings,
    ).toHaveLength(1);
  });

  test('while another one runs the last word stands', () => {
    const { findings, holds } = evaluate(backupFailed, { stage: 'copying', endedAt: null });
    expect([findings, holds('stripe/shelf-a')]).toEqual([[], 'judged-again']);
  });
});
