import { describe, expect, test } from 'vitest';
import type { ProjectAssessment } from '../../../src/core/assess/assessment.ts';
import { type BackupRun, newRun } from '../../../src/core/backup/backup-run.ts';
import { type BackupView, NO_BACKUPS, type ShelfState } from '../../../src/core/backup/backup-view.ts';
import { noCopies } from '../../../src/core/backup/project-copies.ts';
import { backupSentence, shelfSentence } from '../../../src/core/present/backup-words.ts';
import { backupsScreen } from '../../../src/core/present/backups-screen.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleSum } from '../samples.ts';

const SUM = {
  ...{
    shelf: 'id-a',
    volume: 'stripe',
    files: 12,
    bytes: 8e11,
    earlierBytes: 0,
    verifiedFiles: 12,
    verifiedBytes: 8e11,
  },
  ...{ differing: 0, unread: 0, oldestReadAt: NOON - 3_600_000, newestReadAt: NOON },
};
const KNOWN = { id: 'id-a', name: 'shelf-a', drive: null, seenAt: NOON, totalBytes: 8e12, freeBytes: 3e12 };
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, state: 'ready', message: null, lookedAt: NOON },
  known: KNOWN,
  ...{ volumes: ['stripe'], full: null },
};
const BEGUN = newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON });
const shown = (over: Partial<BackupView>, projects: ProjectAssessment[] = []) =>
  snapshot(sampleAssessment({ projects, backups: { ...NO_BACKUPS, shelves: [SHELF], sums: [SUM], ...over } }), [], {
    ...{ version: '0.1.0', page: null, zone: 'UTC' },
  });

test('copies that were not read again in time are told beside the others', () => {
  const late = {
    ...{ volume: 'stripe', shelf: 'shelf-a', bad: [], badFiles: 0, altered: [] },
    ...{ rereadSeconds: 5_184_000, late: { files: 3, bytes: 2e9 } },
  };
  const { shelves, at } = shown({ findings: [late] });
  expect(shelves[0]?.copies).toMatchObject({ overdueFiles: 3, overdueBytes: 2e9 });
  expect(shelves.map((shelf) => shelfSentence(shelf, at))[0]).toMatch(
    /; 3 copies \(2\.00 GB\) were not read for more than 60 days\.$/,
  );
});

describe('a shelf', () => {
  const told = (over: Partial<ShelfState>, sum: Partial<typeof SUM> = {}) => {
    const { shelves, at } = shown({ shelves: [{ ...SHELF, ...over }], sums: [{ ...SUM, ...sum }] });
    return shelves.map((shelf) => shelfSentence(shelf, at))[0];
  };
  test('tells its room, its copies, and when the longest unread of them was read', () => {
    expect(told({})).toBe('3.00 TB of 8.00 TB left; 12 copies, 800 GB, each read back at 11:00 or later.');
    expect(told({}, { verifiedFiles: 9, differing: 1, unread: 1 })).toBe(
      '3.00 TB of 8.00 TB left; 12 copies, 800 GB: 3 files not verified, 1 no longer what was written, 1 could not be read.',
    );
    expect(told({ known: { ...KNOWN, id: 'other' } })).toBe('3.00 TB of 8.00 TB left; no copies on it yet.');
  });
  test('tells what its volumes have and it lacks, here or not', () => {
    const outlook = (lacks: { shelf: string; bytes: number | null }[]) => ({
      ...{ next: null, wait: null, exposedTbHours: null, due: [], nights: [], loss: null, lacks },
    });
    const told = (lacks: { shelf: string; bytes: number | null }[], over: Partial<ShelfState> = {}) => {
      const outlooks = new Map([
        ['stripe', outlook(lacks)],
        ['other', outlook([{ shelf: 'shelf-b', bytes: 5 }])],
      ]);
      const { shelves, at } = shown({ shelves: [{ ...SHELF, ...over }], outlooks });
      return shelves.map((shelf) => shelfSentence(shelf, at))[0];
    };
    expect(told([{ shelf: 'shelf-a', bytes: 0 }])).toMatch(/11:00 or later; it lacks nothing\.$/);
    const away = { state: 'shelf-absent' as const, message: 'm', rotate: true };
    expect(told([{ shelf: 'shelf-a', bytes: 3e11 }], away)).toMatch(/^not here.* or later; it lacks 300 GB\.$/);
    expect(told([{ shelf: 'shelf-a', bytes: null }])).toMatch(/11:00 or later\.$/);
  });

  test('tells when it will be full, as far as that can be told', () => {
    const day = 86_400_000;
    expect(told({ full: { at10: NOON + 2 * day, at50: NOON + 4 * day, at90: null } })).toMatch(
      /left, full about Mon 8 Mar \(in four cases of five from Sat 6 Mar on\); 12 copies/,
    );
    expect(told({ full: { at10: null, at50: null, at90: null } })).toMatch(/^3\.00 TB of 8\.00 TB left; /);
  });

  test('that is away says so, as usual or not', () => {
    const away = { state: 'shelf-absent' as const, message: 'shelf-a is not there: it does not exist.' };
    expect(told(away)).toBe('shelf-a is not there: it does not exist. (last seen 12:00)');
    expect(told({ ...away, rotate: true })).toBe(
      'not here, as is usual for it; last seen 12:00; 12 copies, 800 GB, each read back at 11:00 or later.',
    );
    expect(told({ state: 'new', known: null })).toMatch(/^nothing was ever copied to it/);
    expect(told({ state: null, known: null })).toBe('not looked at yet.');
  });
});

describe('a backup', () => {
  const told = (over: Partial<BackupRun>) => {
    const { backups, at } = shown({ runs: [{ ...BEGUN, ...over }] });
    return backups.map((run) => backupSentence(run, at))[0];
  };
  const DONE: Partial<BackupRun> = {
    stage: 'done',
    endedAt: NOON + 1_860_000,
    files: 3,
    bytes: 8e10,
    verifiedFiles: 3,
  };
  test.each<[string, Partial<BackupRun>, string]>([
    ['beginning', {}, 'A backup of stripe to shelf-a is beginning: the shelf is looked at.'],
    [
      'under way',
      { stage: 'copying', wanted: { files: 10, bytes: 2e11 }, files: 4, movedBytes: 1e11 },
      'A backup of stripe to shelf-a is under way since 12:00: 4 of 10 files, 200 GB in all, 25 % of writing and reading back.',
    ],
    [
      'waiting',
      { stage: 'paused', files: 4 },
      'A backup of stripe to shelf-a waits since 12:00, for playback goes first: 4 files.',
    ],
    [
      'done',
      DONE,
      'The last backup of stripe to shelf-a ended at 12:31: 3 files (80.0 GB) copied, each read back from the shelf.',
    ],
    [
      'done, and not all of it verified',
      { ...DONE, verifiedFiles: 1, changed: 1, failures: 0 },
      'The last backup of stripe to shelf-a ended at 12:31: 3 files (80.0 GB) copied, 1 of them read back from the medium; of the others a cache may have answered; 1 file changed meanwhile and is copied by the next.',
    ],
    [
      'done, with nothing to do',
      { ...DONE, files: 0, verifiedFiles: 0, wanted: { files: 0, bytes: 0 } },
      'The last backup of stripe to shelf-a ended at 12:31: nothing was copied, for nothing was missing there.',
    ],
    [
      'stopped',
      { ...DONE, stage: 'stopped' },
      'The last backup of stripe to shelf-a was stopped at 12:31, 3 files (80.0 GB) copied, each read back from the shelf by then; the next one goes on from there.',
    ],
    [
      'refused',
      { ...DONE, stage: 'refused', why: { reason: 'shelf-absent', message: 'it is not there.' } },
      'The last backup of stripe to shelf-a was not begun at 12:31: it is not there.',
    ],
  ])('%s', (_, over, expected) => {
    expect(told(over)).toBe(expected);
  });
});

test('what was taken away from its volume and lives on is told', () => {
  const lost = (project: string | null, files: number) => ({
    ...{ ...NOTHING_MADE, sum: sampleSum(), multicam: [] },
    copies: {
      ...noCopies({ volume: 'stripe', area: 'project', project }),
      onlyOnShelf: {
        ...{ files, bytes: 8e10, footageBytes: 8e10, fewest: 1, oldestReadAt: NOON },
        shelves: [{ name: 'shelf-a', files, bytes: 8e10 }],
      },
    },
  });
  const told = backupsScreen(shown({}, [lost('Saltmarsh', 12), lost(null, 1)]), 200);
  expect(told).toContain(
    '12 files (80.0 GB) of Saltmarsh are on shelf-a and no longer on stripe: "headroomd backup restore-list" names them.',
  );
  expect(told).toContain('1 file (80.0 GB) of no project is on shelf-a');
});

test('the screen has what would be lost, the shelves, the backups, and originals that changed', () => {
  const screen = backupsScreen(shown({ runs: [{ ...BEGUN, stage: 'done', altered: ['S/A001.mov'] }] }), 80);
  expect(screen).toMatch(/^stripe: .*\n\nshelf-a, \/media\/shelf-a\n {2}3\.00 TB/s);
  expect(screen).toContain('S/A001.mov is not what was copied before.');
  expect(Math.max(...screen.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
  expect(backupsScreen(shown({ shelves: [] }), 80)).toMatch(/^No backup is configured/);
});
