import type { ProjectAssessment } from '../assess/assessment.ts';
import type { BackupRun } from '../backup/backup-run.ts';
import { type BackupView, lackedBy, type ShelfState } from '../backup/backup-view.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';

export interface ShelfSnapshot {
  name: string;
  path: string;
  /** `ready`, `new`, or why it is no place for copies now; `unknown`: not looked at yet. */
  state: string;
  /** Why, in a sentence. */
  stateDetail: string | null;
  totalBytes: number | null;
  freeBytes: number | null;
  /** When it will be full as footage comes, and in four cases of five from when to when; `null`: not known, or later than can be told. */
  fullOn: IsoTime | null;
  fullFrom: IsoTime | null;
  fullTo: IsoTime | null;
  lastSeen: IsoTime | null;
  rotate: boolean;
  /** Copies on it, of all volumes. */
  copies: {
    files: number;
    bytes: number;
    verifiedFiles: number;
    differing: number;
    unread: number;
    /** Those that were not read again within the time that each is to be. */
    overdueFiles: number;
    overdueBytes: number;
  };
  /** That time, the shortest of its backups, in seconds; `null`: not known yet. */
  rereadSeconds: number | null;
  /** When the verified copy that was not read for longest was read. */
  oldestReadAt: IsoTime | null;
  /** What its volumes have and it lacks, here or not; `null`: not known. */
  lacksBytes: number | null;
}

export interface BackupSnapshot {
  volume: string;
  shelf: string;
  state: BackupRun['stage'];
  /** Why it was started. */
  reason: BackupRun['cause'];
  startedAt: IsoTime | null;
  endedAt: IsoTime | null;
  /** What the shelf lacked when it began. */
  wantedFiles: number | null;
  wantedBytes: number | null;
  /** Copied, or found there whole. */
  files: number;
  bytes: number;
  /** Of these, read back from the medium. */
  verifiedFiles: number;
  verifiedBytes: number;
  /** Written and read back so far, with what is under way. */
  movedBytes: number;
  changed: number;
  failures: number;
  /** Why it was refused or broke off, and of the files that were left behind the first, with what to do. */
  why: string | null;
  troubles: { path: string; message: string; advice: string }[];
  altered: string[];
}

export function shelfSnapshot(state: ShelfState, { sums, findings, outlooks }: BackupView, iso: IsoOf): ShelfSnapshot {
  const mine = sums.filter(({ shelf }) => shelf === state.known?.id);
  const total = (of: (sum: (typeof mine)[number]) => number) => mine.reduce((all, sum) => all + of(sum), 0);
  const instant = (at: number | null | undefined) => (at == null ? null : iso(Math.round(at)));
  const found = findings.filter(({ shelf }) => shelf === state.name);
  const late = found.map((one) => one.late);
  const oldest = mine.flatMap(({ oldestReadAt }) => oldestReadAt ?? []);
  return {
    ...{ name: display(state.name), path: display(state.path), rotate: state.rotate },
    ...{ state: state.state ?? 'unknown', stateDetail: state.message === null ? null : display(state.message) },
    totalBytes: state.known?.totalBytes ?? null,
    freeBytes: state.known?.freeBytes ?? null,
    fullOn: instant(state.full?.at50),
    fullFrom: instant(state.full?.at10),
    fullTo: instant(state.full?.at90),
    lastSeen: state.known === null ? null : iso(state.known.seenAt),
    copies: {
      ...{ files: total(({ files }) => files), bytes: total(({ bytes }) => bytes) },
      ...{ verifiedFiles: total(({ verifiedFiles }) => verifiedFiles), differing: total(({ differing }) => differing) },
      unread: total(({ unread }) => unread),
      overdueFiles: late.reduce((all, { files }) => all + files, 0),
      overdueBytes: late.reduce((all, { bytes }) => all + bytes, 0),
    },
    rereadSeconds: found.length === 0 ? null : Math.min(...found.map(({ rereadSeconds }) => rereadSeconds)),
    oldestReadAt: oldest.length === 0 ? null : iso(Math.min(...oldest)),
    lacksBytes: lackedBy(state.name, outlooks),
  };
}

export function backupSnapshot(run: BackupRun, iso: IsoOf): BackupSnapshot {
  const { files, bytes, verifiedFiles, verifiedBytes, movedBytes, changed, failures } = run;
  return {
    ...{ volume: display(run.volume), shelf: display(run.shelf), state: run.stage, reason: run.cause },
    ...{ startedAt: iso(run.startedAt), endedAt: run.endedAt === null ? null : iso(run.endedAt) },
    ...{ wantedFiles: run.wanted?.files ?? null, wantedBytes: run.wanted?.bytes ?? null },
    ...{ files, bytes, verifiedFiles, verifiedBytes, movedBytes, changed, failures },
    why: run.why === null ? null : display(run.why.message),
    troubles: run.troubles.map(({ path, message, advice }) => ({
      ...{ path: display(path), message: display(message), advice: display(advice) },
    })),
    altered: run.altered.map(display),
  };
}

/** What of a project is on a shelf alone. `project`: `null` outside of all. */
export interface OnlyOnShelfSnapshot {
  volume: string;
  project: string | null;
  shelf: string;
  files: number;
  bytes: number;
}

export function onlyOnShelves(projects: readonly Pick<ProjectAssessment, 'copies'>[]): OnlyOnShelfSnapshot[] {
  return projects.flatMap(({ copies }) =>
    (copies?.onlyOnShelf?.shelves ?? []).map(({ name, files, bytes }) => ({
      ...{ volume: display(copies?.volume ?? ''), project: displayOrNull(copies?.project ?? null) },
      ...{ shelf: display(name), files, bytes },
    })),
  );
}
