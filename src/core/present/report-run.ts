import type { BackupRun } from '../backup/backup-run.ts';
import type { CommandRun } from '../backup/command-run.ts';
import type { EndedRun } from '../report-ports.ts';
import { formatBytes, formatCount, formatRate } from '../units.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { namesAndMore } from './lacking-words.ts';
import { shortTime } from './sentences.ts';

/** A backup that ended, to a shelf or by a program of the user's. Texts are escaped. */
export interface ReportRun {
  by: EndedRun['kind'];
  volume: string;
  /** The shelf, or what the program copies to. */
  to: string;
  cause: BackupRun['cause'];
  state: BackupRun['stage'] | CommandRun['stage'];
  startedAt: IsoTime;
  endedAt: IsoTime | null;
  wantedFiles: number | null;
  wantedBytes: number | null;
  /** Copied, or found there whole; of a program by its word. */
  files: number;
  bytes: number;
  /** Of these, read back from the medium. */
  verifiedFiles: number;
  verifiedBytes: number;
  /** Without looking, and without what it stood still for others; `null`: not known. */
  copyingSeconds: number | null;
  /** Copied and read back, over those seconds. */
  bytesPerSecond: number | null;
  /** Copies of before that were read again. */
  reread: number;
  changed: number;
  failures: number;
  troubles: { path: string; message: string }[];
  why: string | null;
}

/** Less than this tells more of opening files than of the drives. */
const LEAST_SECONDS = 0.25;

export function reportRun(ended: EndedRun, iso: IsoOf): ReportRun {
  const { volume, cause, stage, startedAt, endedAt, wanted, failures, troubles, why } = ended.run;
  return {
    ...{ by: ended.kind, volume: display(volume), cause, state: stage, startedAt: iso(startedAt) },
    endedAt: endedAt === null ? null : iso(endedAt),
    ...{ wantedFiles: wanted?.files ?? null, wantedBytes: wanted?.bytes ?? null },
    ...(ended.kind === 'backup' ? shelfFigures(ended.run) : commandFigures(ended.run)),
    failures,
    troubles: troubles.map(({ path, message }) => ({ path: display(path), message: display(message) })),
    why: displayOrNull(why?.message ?? null),
  };
}

function shelfFigures(run: BackupRun) {
  const { shelf, files, bytes, verifiedFiles, verifiedBytes, copyingSeconds, reread, changed } = run;
  const isTelling = bytes > 0 && copyingSeconds >= LEAST_SECONDS;
  return {
    ...{ to: display(shelf), files, bytes, verifiedFiles, verifiedBytes, copyingSeconds, reread, changed },
    bytesPerSecond: isTelling ? Math.round(bytes / copyingSeconds) : null,
  };
}

/** What it says that it copied is one thing, and what was read back of it another. */
function commandFigures({ name, reported, verified }: CommandRun) {
  return {
    ...{ to: display(name), files: reported.files, bytes: reported.bytes, reread: 0, changed: 0 },
    ...{ verifiedFiles: verified.files, verifiedBytes: verified.bytes, copyingSeconds: null, bytesPerSecond: null },
  };
}

/** Did it do all that it began for? What is stopped in order goes on by itself. */
export function isRunGood({ state, failures }: ReportRun): boolean {
  return failures === 0 && (state === 'done' || state === 'stopped');
}

const CAUSES: Readonly<Record<ReportRun['cause'], string>> = {
  command: 'asked for by hand',
  'project-files': 'of project files',
  nightly: 'its night',
  'catch-up': 'for a night that was missed',
  retry: 'once more after one that failed',
  'card-finished': 'after footage had come',
  exposure: 'for what was exposed, and how long',
  age: 'for what was exposed for long',
};

/** When, why, how much, how fast, how surely, and what it left behind, by name. `at`: when the report was made. */
export function runSentence(run: ReportRun, at: IsoTime): string {
  const { volume, to, cause, startedAt, endedAt } = run;
  const [from, until] = [shortTime(startedAt, at), endedAt === null ? null : shortTime(endedAt, at)];
  const when = until === null || until === from ? from : `${from} to ${until}`;
  return `${when}, ${volume} to ${to}, ${CAUSES[cause]}: ${endWords(run)}${doneWords(run)}${restWords(run)}.`;
}

function endWords({ state, why }: ReportRun): string {
  const because = (why ?? '').replace(/\.$/, '');
  if (state === 'refused') return `it was not begun: ${because}; `;
  if (state === 'broken' || state === 'failed') return `it did not end well: ${because}; `;
  return state === 'stopped' ? 'it was ended before it was through, and the next one goes on from there; ' : '';
}

function doneWords(run: ReportRun): string {
  const { by, files, bytes, verifiedFiles, bytesPerSecond, wantedFiles } = run;
  if (wantedFiles === 0) return 'nothing was lacking there';
  if (files === 0) return 'nothing was copied';
  const count = `${formatCount(files, 'file')} (${formatBytes(bytes)})`;
  if (by === 'command') {
    const were = `${verifiedFiles} ${verifiedFiles === 1 ? 'was' : 'were'} read back from the medium`;
    return `${count} copied by its word; ${were}`;
  }
  const rate = bytesPerSecond === null ? '' : ` at ${formatRate(bytesPerSecond)} with reading back`;
  const verified =
    verifiedFiles === files
      ? 'each read back from the medium'
      : `${verifiedFiles} of them read back from the medium; of the others a cache may have answered, and they do not count as verified`;
  return `${count} copied${rate}, ${verified}`;
}

function restWords({ reread, changed, failures, troubles }: ReportRun): string {
  const changedWords = `${formatCount(changed, 'file')} changed meanwhile and ${changed === 1 ? 'is' : 'are'} left to the next`;
  const named = namesAndMore(
    troubles.map(({ path, message }) => `${path} (${message.replace(/\.$/, '')})`),
    failures,
  );
  return [
    ...(reread === 0 ? [] : [`${formatCount(reread, 'copy', 'copies')} of before read again`]),
    ...(changed === 0 ? [] : [changedWords]),
    ...(failures === 0 ? [] : [`${formatCount(failures, 'file')} left behind: ${named}`]),
  ]
    .map((words) => `; ${words}`)
    .join('');
}
