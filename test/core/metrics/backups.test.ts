import { expect, test } from 'vitest';
import type { Snooze } from '../../../src/core/advise/snooze.ts';
import { newRun } from '../../../src/core/backup/backup-run.ts';
import { type BackupView, NO_BACKUPS, type ShelfState } from '../../../src/core/backup/backup-view.ts';
import { newCommandRun } from '../../../src/core/backup/command-run.ts';
import type { ShelfSum } from '../../../src/core/backup/copies.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { ADVISORY, CONTEXT } from '../present/hostile.ts';
import { NOON, SECOND, sampleAssessment } from '../samples.ts';
import { metricsSource, series } from './exposed.ts';

const shelf = (over: Partial<ShelfState> = {}): ShelfState => ({
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state: 'ready', message: null },
  ...{ lookedAt: NOON, full: { at10: NOON + SECOND, at50: NOON + 2 * SECOND, at90: null } },
  known: { id: 'id-a', name: 'shelf-a', drive: 'uuid', seenAt: NOON - SECOND, totalBytes: 8e12, freeBytes: 2e12 },
  ...over,
});

const sum = {
  ...{ volume: 'stripe', shelf: 'id-a', files: 10, bytes: 9e9, verifiedFiles: 8, verifiedBytes: 7e9 },
  ...{ differing: 1, unread: 2, oldestReadAt: NOON - 9 * SECOND, newestReadAt: NOON - 3 * SECOND },
} as ShelfSum;

const order = { volume: 'stripe', shelf: 'shelf-a', startedAt: NOON - 60 * SECOND };

const told = (backups: Partial<BackupView>) =>
  series(
    metricsSource({
      snapshot: snapshot(sampleAssessment({ backups: { ...NO_BACKUPS, ...backups } }), [ADVISORY], CONTEXT),
    }),
  );

test('a run that goes on has no end, and what it has done so far', () => {
  const run = {
    ...newRun({ ...order, cause: 'nightly' }),
    ...{ stage: 'copying' as const, wanted: { files: 5, bytes: 5e9 } },
    ...{ files: 2, bytes: 2e9, verifiedFiles: 1, verifiedBytes: 1e9, failures: 1 },
  };
  const all = told({ runs: [run, newRun({ ...order, cause: 'project-files' })] });
  const of = (name: string) => all[`headroomd_backup_run_${name}{volume="stripe",shelf="shelf-a"}`];
  expect(['wanted_files', 'wanted_bytes', 'files', 'bytes', 'verified_bytes', 'failed_files'].map(of)).toEqual([
    ...[5, 5e9, 2, 2e9, 1e9, 1],
  ]);
  expect(of('started_timestamp_seconds')).toBe(NOON / 1000 - 60);
  expect(of('ended_timestamp_seconds')).toBeUndefined();
  const states = Object.entries(all).filter(([name]) => name.startsWith('headroomd_backup_run_state'));
  // Of project files alone is no backup of the volume: one run, in one state.
  expect(states).toHaveLength(8);
  expect(states.filter(([, value]) => value === 1).map(([name]) => name)).toEqual([
    'headroomd_backup_run_state{volume="stripe",shelf="shelf-a",state="copying"}',
  ]);
});

test('a shelf that is there tells its room and its copies', () => {
  const all = told({ shelves: [shelf()], sums: [sum] });
  const of = (name: string, more = '') => all[`headroomd_shelf_${name}{shelf="shelf-a"${more}}`];
  expect(['ready', 'size_bytes', 'free_bytes', 'copies_bytes'].map((name) => of(name))).toEqual([1, 8e12, 2e12, 9e9]);
  expect(
    ['all', 'verified', 'differing', 'unread', 'overdue'].map((one) => of('copies_files', `,copies="${one}"`)),
  ).toEqual([...[10, 8, 1, 2, 0]]);
  expect(['low', 'median', 'high'].map((one) => of('full_timestamp_seconds', `,estimate="${one}"`))).toEqual([
    ...[NOON / 1000 + 1, NOON / 1000 + 2, undefined],
  ]);
  expect(of('last_seen_timestamp_seconds')).toBe(NOON / 1000 - 1);
  expect(of('oldest_read_timestamp_seconds')).toBe(NOON / 1000 - 9);
  expect(of('backlog_bytes')).toBeUndefined();
  expect(all['headroomd_volume_last_verified_timestamp_seconds{volume="stripe"}']).toBe(NOON / 1000 - 3);
});

test('one that is away has no room, and keeps its copies; of one that nobody looked at, or never saw, nothing is told', () => {
  const away = told({ shelves: [shelf({ state: 'shelf-absent' })], sums: [sum] });
  expect(away['headroomd_shelf_ready{shelf="shelf-a"}']).toBe(0);
  expect(away['headroomd_shelf_copies_bytes{shelf="shelf-a"}']).toBe(9e9);
  expect(Object.keys(away).join('\n')).not.toMatch(/headroomd_shelf_(size|free)/);
  const unseen = told({ shelves: [shelf({ state: null, known: null, full: null })] });
  expect(Object.keys(unseen).filter((name) => name.startsWith('headroomd_shelf_'))).toEqual([]);
});

test('a program of the user tells what it says apart from what was read back; one that has not run has no state', () => {
  const run = {
    ...newCommandRun({ volume: 'stripe', name: 'tape', cause: 'nightly', startedAt: NOON }),
    endedAt: NOON,
  };
  const reported = { presentFiles: 3, presentBytes: 3e9 } as never;
  const state = { volume: 'stripe', name: 'tape', run: { ...run, stage: 'failed' as const }, reported, nextAt: null };
  const all = told({ commands: [state, { ...state, name: 'site', run: null, reported: null }] });
  expect(all['headroomd_command_run_state{volume="stripe",shelf="tape",state="failed"}']).toBe(1);
  expect(all['headroomd_command_run_ended_timestamp_seconds{volume="stripe",shelf="tape"}']).toBe(NOON / 1000);
  expect(all['headroomd_command_copies_bytes{volume="stripe",shelf="tape",copies="reported"}']).toBe(3e9);
  expect(all['headroomd_command_copies_bytes{volume="stripe",shelf="tape",copies="verified"}']).toBe(0);
  expect(Object.keys(all).filter((name) => name.includes('"site",state'))).toEqual([]);
});

test('advisories are counted by kind and severity, and those that are not raised are told as none', () => {
  const all = told({});
  const counts = Object.entries(all).filter(([name]) => name.startsWith('headroomd_advisories'));
  expect(counts.filter(([, value]) => value > 0)).toEqual([
    ['headroomd_advisories{kind="speed-overrun",severity="warning"}', 1],
  ]);
  expect(counts.length).toBeGreaterThan(60);
  expect(Object.keys(all).join('\n')).not.toContain('550 MB/s');
});

test('what somebody wants quiet raises nothing, and is counted apart', () => {
  const said = { saidAt: NOON, saidBy: 'the gallery', reason: 'looked at', severity: 'warning' as const };
  const snooze: Snooze = { ...said, isKnown: true, until: null, ends: 'as-asked' };
  const quiet = snapshot(sampleAssessment(), [{ ...ADVISORY, snooze }], CONTEXT);
  const all = series(metricsSource({ snapshot: quiet }));
  expect(all['headroomd_advisories{kind="speed-overrun",severity="warning"}']).toBe(0);
  expect(all['headroomd_advisories_snoozed{severity="warning"}']).toBe(1);
  expect(all['headroomd_advisories_snoozed{severity="critical"}']).toBe(0);
  expect(Object.keys(all).join('\n')).not.toMatch(/gallery|looked at/);
});
