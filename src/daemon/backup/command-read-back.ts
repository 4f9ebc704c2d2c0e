import { type CommandTrouble, commandShelf } from '../../core/backup/command-run.ts';
import {
  type BackupStorePort,
  type KeptCopy,
  type ReportedStorePort,
  type UnreadReport,
  VERIFIED_GRADES,
} from '../../core/backup/copies.ts';
import type { CopyPort, Pace, ReadOutcome, ReadPlace } from '../../core/backup/copy-port.ts';
import type { ShelfPort } from '../../core/backup/shelf-port.ts';
import type { Clock } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';

export interface ReadBackDeps {
  store: Pick<BackupStorePort, 'putShelf' | 'putCopies' | 'putVersions'>;
  reported: Pick<ReportedStorePort, 'unreadReports' | 'settleReports'>;
  copies: Pick<CopyPort, 'readBack'>;
  shelves: Pick<ShelfPort, 'look'>;
  clock: Clock;
  pace: (volume: string) => Pace;
}

export interface ReadBackJob {
  volume: { name: string; path: string };
  name: string;
  readBack: string;
}

export interface ReadBackHooks {
  /** What it is is there. `isVerified`: it came from its medium. */
  good: (size: number, isVerified: boolean) => void;
  trouble: (trouble: CommandTrouble) => void;
}

type ReadAs = Extract<ReadOutcome, { is: 'read' }>;

const TOGETHER = 500;

/**
 * Reads what a program said to be readable, and compares it with the file's content; where nobody has read that yet, it is read too. What is as
 * it was said is a copy like those on shelves, as surely as it was read. What is something else was not copied: it is listed again.
 */
export async function readBackReports(
  deps: ReadBackDeps,
  job: ReadBackJob,
  signal: AbortSignal,
  hooks: ReadBackHooks,
): Promise<void> {
  const { reported } = deps;
  let reports = await reported.unreadReports(job.volume.name, job.name, TOGETHER);
  if (reports.length === 0) return;
  const folder = await openFolder(deps, job, hooks);
  if (folder === null) return;
  while (reports.length > 0 && !signal.aborted) {
    const settled = await readSome(deps, { ...job, folder }, reports, signal, hooks);
    // What has no outcome was stopped before: it is read the next time.
    if (settled === 0) return;
    reports = await reported.unreadReports(job.volume.name, job.name, TOGETHER);
  }
}

/** The folder, if what lies there is no part of the volume. */
async function openFolder(
  { shelves, store, clock }: ReadBackDeps,
  { volume, name, readBack }: ReadBackJob,
  { trouble }: ReadBackHooks,
): Promise<Extract<ReadPlace, { folder: unknown }> | null> {
  const look = await shelves.look(readBack, volume.path);
  const refuse = (message: string): null => {
    trouble({ path: readBack, message });
    return null;
  };
  if (look.is === 'absent') return refuse(`what ${display(name)} copied cannot be read back: ${look.why}`);
  const shared = look.drives.find((drive) => look.volume?.drives.includes(drive));
  if (look.volume === null || look.volume.device === look.device || shared !== undefined) {
    return refuse(
      `${readBack} is on a drive of the working volume itself, or that cannot be told: what lies there is lost with it, and is not read back. Let ${display(name)} copy elsewhere.`,
    );
  }
  const { totalBytes, freeBytes, drives, device } = look;
  const isNamed = drives.length === 0 || drives.some((drive) => drive.startsWith('name '));
  const drive = isNamed ? null : drives.toSorted().join(' ');
  await store.putShelf({ id: commandShelf(name), name, drive, seenAt: clock.now(), totalBytes, freeBytes });
  return { folder: { root: readBack, device } };
}

async function readSome(
  deps: ReadBackDeps,
  job: ReadBackJob & { folder: ReadPlace },
  reports: readonly UnreadReport[],
  signal: AbortSignal,
  hooks: ReadBackHooks,
): Promise<number> {
  const sources = await readSources(deps, job, reports, signal);
  const found = await read(deps, job, job.folder, reports, ({ readPath }) => readPath, signal);
  const good: KeptCopy[] = [];
  const settled: (UnreadReport & { keep: boolean })[] = [];
  for (const report of reports) {
    const [copy, source] = [found.get(report), sources.get(report)];
    if (copy === undefined || (source === undefined && isUnknown(report))) continue;
    const hash = report.hash ?? source?.hash ?? null;
    const verdict = judge(report, copy, hash);
    settled.push({ ...report, keep: verdict !== 'differs' });
    if (verdict === 'good' && copy.is === 'read' && report.file !== null) {
      good.push(keptCopy(report, report.file, copy));
      hooks.good(report.size, VERIFIED_GRADES.includes(copy.grade));
    } else if (verdict !== 'good')
      hooks.trouble({ path: report.source, message: troubleOf(verdict, report, job, copy) });
  }
  await deps.store.putCopies(good);
  await deps.reported.settleReports(settled);
  return settled.length;
}

type Verdict = 'good' | 'differs' | 'unread' | 'unknown';

/** `unknown`: nobody can tell what it should be. */
function judge(report: UnreadReport, copy: ReadOutcome, hash: string | null): Verdict {
  if (copy.is !== 'read') return 'unread';
  if (copy.bytes === report.size && copy.hash === hash) return 'good';
  // It may have been copied as it is by now.
  if (report.file === null || (copy.bytes === report.size && hash === null)) return 'unknown';
  return 'differs';
}

function troubleOf(
  verdict: Exclude<Verdict, 'good'>,
  { source, readPath }: UnreadReport,
  { name, readBack }: ReadBackJob,
  copy: ReadOutcome,
): string {
  const said = `${display(name)} was said to have ${display(source)} at ${display(`${readBack}/${readPath}`)}`;
  switch (verdict) {
    case 'differs':
      return `${said}, and what lies there is something else. It does not count as copied; look what the program does`;
    case 'unread': {
      const why = copy.is === 'failed' ? copy.trouble.message : 'it changed while it was read';
      return `${said}, and it could not be read there: ${why}. It stays as said, and does not count as verified`;
    }
    case 'unknown':
      return `${said}; the file has changed since, is gone or cannot be read, so there is nothing to compare it with`;
  }
}

/** Nobody has read this version of the file yet, and it is there. */
function isUnknown({ hash, file }: UnreadReport): boolean {
  return hash === null && file !== null;
}

/** Of files that nobody has read in this version yet, what is in them; `null`: they are something else by now, or cannot be read. */
async function readSources(
  deps: ReadBackDeps,
  job: ReadBackJob,
  reports: readonly UnreadReport[],
  signal: AbortSignal,
): Promise<Map<UnreadReport, ReadAs | null>> {
  const asked = reports.filter(isUnknown);
  const found = new Map<UnreadReport, ReadAs | null>();
  if (asked.length === 0) return found;
  const outcomes = await read(deps, job, { volume: job.volume.path }, asked, ({ source }) => source, signal);
  for (const [report, outcome] of outcomes) {
    // Of another version it says nothing.
    const isIt = outcome.is === 'read' && outcome.mtimeNs === report.mtimeNs && outcome.bytes === report.size;
    found.set(report, isIt ? outcome : null);
  }
  const readAt = deps.clock.now();
  await deps.store.putVersions(
    [...found].flatMap(([{ volume, source, size, mtimeNs }, read]) =>
      read === null ? [] : { volume, source, size, mtimeNs, algorithm: read.algorithm, hash: read.hash, readAt },
    ),
  );
  return found;
}

async function read(
  { copies, pace }: ReadBackDeps,
  { volume }: ReadBackJob,
  place: ReadPlace,
  reports: readonly UnreadReport[],
  pathOf: (report: UnreadReport) => string,
  signal: AbortSignal,
): Promise<Map<UnreadReport, ReadOutcome>> {
  const found = new Map<UnreadReport, ReadOutcome>();
  const items = reports.map((report, id) => ({ id, path: pathOf(report), size: report.size, expected: null }));
  const settled = (outcomes: ReadOutcome[]): void => {
    for (const outcome of outcomes) {
      const report = reports[outcome.id];
      if (report !== undefined) found.set(report, outcome);
    }
  };
  await copies.readBack({ place, pace: pace(volume.name) }, items, { settled }, signal).end;
  return found;
}

function keptCopy(report: UnreadReport, file: NonNullable<UnreadReport['file']>, copy: ReadAs): KeptCopy {
  const { name, readPath: path, volume, source, size, mtimeNs, reportedAt: copiedAt } = report;
  const { algorithm, hash, grade, readAt } = copy;
  return {
    ...{
      shelf: commandShelf(name),
      path,
      volume,
      ...file,
      source,
      size,
      mtimeNs,
      algorithm,
      hash,
      grade,
      copiedAt,
      readAt,
    },
  };
}
