import type { RunStage } from '../backup/backup-run.ts';
import type { CommandStage } from '../backup/command-run.ts';
import type { BackupSnapshot, ShelfSnapshot } from '../present/snapshot-backups.ts';
import type { CommandSnapshot } from '../present/snapshot-commands.ts';
import { type Family, familiesOf, type Labels, oneOf, type Row, statesOf, timestamp } from './family.ts';
import { estimates } from './volume-families.ts';

/** When all that was there was on a shelf last, or a program said so. */
export interface LastSuccess {
  volume: string;
  shelf: string;
  /** Seconds since 1970. */
  at: number;
}

const STAGES = statesOf<RunStage>({
  ...{ looking: 1, copying: 1, paused: 1, 're-reading': 1, done: 1, stopped: 1, broken: 1, refused: 1 },
});
const COMMAND_STAGES = statesOf<CommandStage>({
  ...{ waiting: 1, listing: 1, running: 1, 'reading-back': 1, done: 1, stopped: 1, failed: 1 },
});

const RUN_ROWS: readonly Row<BackupSnapshot>[] = [
  {
    name: 'headroomd_backup_run_state',
    unit: null,
    help: 'The last backup from a volume to a shelf, or the one that goes on: 1 for the state it is in.',
    of: ({ state }) => oneOf(STAGES, state),
  },
  {
    name: 'headroomd_backup_run_started_timestamp_seconds',
    unit: 'seconds',
    help: 'When it began.',
    of: ({ startedAt }) => timestamp(startedAt),
  },
  {
    name: 'headroomd_backup_run_ended_timestamp_seconds',
    unit: 'seconds',
    help: 'When it ended, well or not. Absent while it goes on.',
    of: ({ endedAt }) => timestamp(endedAt),
  },
  {
    name: 'headroomd_backup_run_wanted_files',
    unit: null,
    help: 'Files that the shelf lacked when it began.',
    of: ({ wantedFiles }) => wantedFiles,
  },
  {
    name: 'headroomd_backup_run_wanted_bytes',
    unit: 'bytes',
    help: 'What the shelf lacked when it began.',
    of: ({ wantedBytes }) => wantedBytes,
  },
  {
    name: 'headroomd_backup_run_files',
    unit: null,
    help: 'Files that it copied, or found there whole.',
    of: ({ files }) => files,
  },
  {
    name: 'headroomd_backup_run_bytes',
    unit: 'bytes',
    help: 'What it copied, or found there whole.',
    of: ({ bytes }) => bytes,
  },
  {
    name: 'headroomd_backup_run_verified_bytes',
    unit: 'bytes',
    help: 'Of these, what was read back from the medium.',
    of: ({ verifiedBytes }) => verifiedBytes,
  },
  {
    name: 'headroomd_backup_run_failed_files',
    unit: null,
    help: 'Files that could not be copied.',
    of: ({ failures }) => failures,
  },
];

const SHELF_ROWS: readonly Row<ShelfSnapshot>[] = [
  {
    name: 'headroomd_shelf_ready',
    unit: null,
    help: 'Whether a shelf is there and takes copies. Absent until it was looked at.',
    of: ({ state }) => (state === 'unknown' ? null : Number(state === 'ready' || state === 'new')),
  },
  {
    name: 'headroomd_shelf_last_seen_timestamp_seconds',
    unit: 'seconds',
    help: 'When it was there last.',
    of: ({ lastSeen }) => timestamp(lastSeen),
  },
  {
    name: 'headroomd_shelf_size_bytes',
    unit: 'bytes',
    help: 'All that it holds. Absent while it is away.',
    of: ({ state, totalBytes }) => (state === 'ready' ? totalBytes : null),
  },
  {
    name: 'headroomd_shelf_free_bytes',
    unit: 'bytes',
    help: 'What it has free. Absent while it is away.',
    of: ({ state, freeBytes }) => (state === 'ready' ? freeBytes : null),
  },
  {
    name: 'headroomd_shelf_full_timestamp_seconds',
    unit: 'seconds',
    help: 'When it will be full, as footage comes: in 10, 50 and 90 cases of a hundred it is by then.',
    of: ({ fullFrom, fullOn, fullTo }) => estimates(fullFrom, fullOn, fullTo),
  },
  {
    name: 'headroomd_shelf_backlog_bytes',
    unit: 'bytes',
    help: 'What its volumes have and it lacks.',
    of: ({ lacksBytes }) => lacksBytes,
  },
  {
    name: 'headroomd_shelf_copies_files',
    unit: null,
    help: 'Copies on it, by what is known of them: all, verified, differing, unread, overdue for being read again.',
    of: ({ lastSeen, copies }) =>
      lastSeen === null
        ? null
        : ([
            [{ copies: 'all' }, copies.files],
            [{ copies: 'verified' }, copies.verifiedFiles],
            [{ copies: 'differing' }, copies.differing],
            [{ copies: 'unread' }, copies.unread],
            [{ copies: 'overdue' }, copies.overdueFiles],
          ] as const),
  },
  {
    name: 'headroomd_shelf_copies_bytes',
    unit: 'bytes',
    help: 'Bytes of the copies on it, of all its volumes.',
    of: ({ lastSeen, copies }) => (lastSeen === null ? null : copies.bytes),
  },
  {
    name: 'headroomd_shelf_oldest_read_timestamp_seconds',
    unit: 'seconds',
    help: 'When the verified copy was read that was not read for longest.',
    of: ({ oldestReadAt }) => timestamp(oldestReadAt),
  },
];

const COMMAND_ROWS: readonly Row<CommandSnapshot>[] = [
  {
    name: 'headroomd_command_run_state',
    unit: null,
    help: 'The last run of a program of yours that copies: 1 for the state it is in.',
    of: ({ state }) => oneOf(COMMAND_STAGES, state),
  },
  {
    name: 'headroomd_command_run_ended_timestamp_seconds',
    unit: 'seconds',
    help: 'When it ended, well or not.',
    of: ({ endedAt }) => timestamp(endedAt),
  },
  {
    name: 'headroomd_command_copies_bytes',
    unit: 'bytes',
    help: 'What it says that it has copied of what is on the volume, and what of all was read back.',
    of: ({ copies }) => [
      [{ copies: 'reported' }, copies.reportedBytes],
      [{ copies: 'verified' }, copies.verifiedBytes],
    ],
  },
];

/** Backups of project files alone are no backup of the volume: they are left out. */
export function backupFamilies(
  backups: readonly BackupSnapshot[],
  shelves: readonly ShelfSnapshot[],
  commands: readonly CommandSnapshot[],
  successes: readonly LastSuccess[],
): Family[] {
  const pair = ({ volume, shelf }: { volume: string; shelf: string }): Labels => ({ volume, shelf });
  const whole = backups.filter(({ reason }) => reason !== 'project-files');
  return [
    {
      ...{ name: 'headroomd_backup_last_success_timestamp_seconds', type: 'gauge', unit: 'seconds' },
      help: 'When the last backup from a volume to a shelf, or by a program of yours, ended with all that it had to do done.',
      samples: successes.map(({ at, ...where }) => ({ labels: pair(where), value: at })),
    },
    ...familiesOf(RUN_ROWS, whole, pair),
    ...familiesOf(SHELF_ROWS, shelves, ({ name }) => ({ shelf: name })),
    ...familiesOf(COMMAND_ROWS, commands, ({ volume, name }) => ({ volume, shelf: name })),
  ];
}
