import { formatBytes, formatCount, formatDuration, formatRate, formatShare } from '../units.ts';

/** How much of something was done at a time, for a rate. `ticks`: monotonic, in milliseconds. */
export interface Moment {
  ticks: number;
  bytes: number;
}

/** A rate is that of the last so many milliseconds: long enough that one batch does not make it, short enough to follow. */
const WINDOW_MS = 30_000;
/** From what was seen for less than that no rate is told. */
const LEAST_MS = 3_000;

/** The moments that count for the rate now, the newest last. One that fell behind begins anew: it is another work. */
export function noteMoment(before: readonly Moment[], now: Moment): Moment[] {
  const last = before.at(-1);
  if (last !== undefined && now.bytes < last.bytes) return [now];
  // The last one from before the window stays, so that the window is covered.
  const from = before.findLastIndex(({ ticks }) => ticks <= now.ticks - WINDOW_MS);
  return [...before.slice(Math.max(0, from)), now];
}

/** Bytes per second; `null`: it was not looked for long enough. */
export function rateOf(moments: readonly Moment[]): number | null {
  const [first] = moments;
  const last = moments.at(-1);
  if (first === undefined || last === undefined || last.ticks - first.ticks < LEAST_MS) return null;
  return ((last.bytes - first.bytes) * 1000) / (last.ticks - first.ticks);
}

/** `, 110 MB/s, about 5 min 03 s left`; nothing while there is no rate, and no end where nothing moves. */
export function paceWords(moments: readonly Moment[], leftBytes: number): string {
  const bps = rateOf(moments);
  if (bps === null) return '';
  const left = bps <= 0 || leftBytes <= 0 ? '' : `, about ${formatDuration(Math.ceil(leftBytes / bps))} left`;
  return `, ${formatRate(bps)}${left}`;
}

/** How far a measurement is, as whoever makes it tells. */
export interface MeasureStep {
  doing: 'writing' | 'reading' | 'streams';
  streams: number;
  bytes: number;
  bps: number;
}

/** What was ordered. `seconds`: longest that writing and reading take each; several streams take a third of it at the most. */
export interface MeasurePlan {
  bytes: number;
  streams: readonly number[];
  seconds: number;
}

/** One line: what is done, how far it is, how fast, and how long it takes at the most until all of it is over. */
export function measureProgress(step: MeasureStep, plan: MeasurePlan): string {
  const { doing, streams, bytes, bps } = step;
  const count = doing === 'writing' ? 1 : doing === 'reading' ? 2 : 3 + plan.streams.indexOf(streams);
  const what = doing === 'streams' ? `reading with ${streams === 1 ? 'one stream' : `${streams} streams`}` : doing;
  const share = Math.min(1, bytes / plan.bytes);
  const left = `at most ${formatDuration(Math.ceil(longestLeft(step, plan)))} left`;
  return `step ${count} of ${2 + plan.streams.length}, ${what}: ${formatShare(share)}, ${formatRate(bps)}, ${left}`;
}

/** Seconds: of this step what its bytes need at this rate, or its time leaves; of those to come all their time. */
function longestLeft({ doing, streams, bytes, bps }: MeasureStep, plan: MeasurePlan): number {
  const third = plan.seconds / 3;
  const longest = doing === 'streams' ? third : plan.seconds;
  const byBytes = bps > 0 ? Math.max(0, plan.bytes - bytes) / bps : longest;
  const byTime = bps > 0 ? Math.max(0, longest - bytes / bps) : longest;
  const passes = doing === 'streams' ? plan.streams.length - 1 - plan.streams.indexOf(streams) : plan.streams.length;
  return Math.min(byBytes, byTime) + (doing === 'writing' ? plan.seconds : 0) + passes * third;
}

/** How far a backup is; each byte of it is written and read back. */
export interface BackupProgress {
  state: string;
  files: number;
  wantedFiles: number | null;
  wantedBytes: number | null;
  movedBytes: number;
}

/** One line, without the names of volume and shelf. */
export function backupProgress(run: BackupProgress, moments: readonly Moment[]): string {
  const { state, files, wantedFiles, wantedBytes, movedBytes } = run;
  if (state === 'looking' || wantedFiles === null || wantedBytes === null) return 'the shelf is looked at';
  if (state === 're-reading') return 'all is copied; older copies are read again';
  const both = 2 * wantedBytes;
  const share = both === 0 ? '' : `, ${formatShare(Math.min(1, movedBytes / both))} of writing and reading back`;
  const held = state === 'paused' ? '; it waits, for playback goes first' : paceWords(moments, both - movedBytes);
  return `${files} of ${formatCount(wantedFiles, 'file')}, ${formatBytes(wantedBytes)}${share}${held}`;
}
