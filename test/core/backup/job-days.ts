import { type DueSeen, decide, type Job } from '../../../src/core/backup/due.ts';
import { nextBackup } from '../../../src/core/backup/due-next.ts';
import { type JobState, NEW_JOB, noteJob, type RunEnd, type Start } from '../../../src/core/backup/due-state.ts';
import { type ExposureTime, tbHours, watchExposure } from '../../../src/core/backup/exposure-time.ts';

export const MINUTE = 60_000;
export const HOUR = 60 * MINUTE;

type Span = readonly [from: number, to: number];

/** Days of a volume and its shelves, step by step. */
export interface Days {
  job: Job;
  from: number;
  to: number;
  /** Shelves by name, and when each is away. */
  shelves: Record<string, readonly Span[]>;
  footage: readonly { at: number; bytes: number }[];
  /** The daemon is down, or the machine sleeps, and nobody asks: a run that went on is found to have been killed. */
  unasked?: readonly Span[];
  playing?: readonly Span[];
  /** It is seen when footage comes; else only what is exposed. */
  tellsComing?: boolean;
  /** Runs that begin in here fail. */
  failing?: readonly Span[];
  runMinutes: number;
  /** Milliseconds from one step to the next; a minute where it is not told. */
  step?: number;
  /** Asked so often in each step; what the last says is done. */
  asks?: number;
}

export interface Known {
  at: number;
  state: JobState;
  seen: DueSeen;
}

export interface Happened {
  starts: (Start & { at: number; endsAt: number | null; tbHours: number })[];
  /** What was known at each step. */
  known: Known[];
  /** Bytes on no shelf, and on too few, when all is over. */
  exposedBytes: number;
  lackingBytes: number;
}

const within = (spans: readonly Span[] | undefined, at: number) =>
  (spans ?? []).some(([from, to]) => from <= at && at < to);

/** Lets the days pass. A run copies what was there when it began, to all its shelves, and says so when it ends. */
export function passDays(days: Days): Happened {
  const names = Object.keys(days.shelves);
  const copies = new Map<string, number>(names.map((name) => [name, 0]));
  const step = days.step ?? MINUTE;
  const starts: Happened['starts'] = [];
  const known: Known[] = [];
  let exposure: ExposureTime | null = null;
  let state = noteJob(NEW_JOB, { type: 'opened', shelves: names }, days.from);
  const lackedBy = (name: string, at: number) =>
    days.footage.filter((batch) => batch.at <= at && batch.at > (copies.get(name) ?? 0));
  const exposedAt = (at: number) =>
    days.footage.filter((batch) => batch.at <= at && names.every((name) => lackedBy(name, at).includes(batch)));
  const bytesOf = (batches: readonly { bytes: number }[]) => batches.reduce((sum, { bytes }) => sum + bytes, 0);
  const oldest = (batches: readonly { at: number }[]) =>
    batches.reduce((min, { at }) => Math.min(min, at), Number.POSITIVE_INFINITY);

  function look(at: number): DueSeen {
    const exposed = exposedAt(at);
    const exposedSince = exposed.length > 0 ? oldest(exposed) : null;
    exposure = watchExposure(exposure, { exposedBytes: bytesOf(exposed), exposedSince }, at);
    const newest = days.footage.findLast((batch) => batch.at <= at);
    return {
      shelves: names.map((name) => {
        return {
          name,
          isThere: !within(days.shelves[name], at),
          lacksBytes: bytesOf(lackedBy(name, at)),
          hadAllAt: null,
        };
      }),
      exposed: exposure,
      footageCameAt: days.tellsComing === true ? (newest?.at ?? null) : null,
      quietSince: newest?.at ?? days.from,
      hindrance: within(days.playing, at) ? 'playback' : null,
    };
  }

  function endRun(at: number, how: RunEnd): void {
    const { run } = state;
    const last = starts.at(-1);
    if (run === null || last === undefined) return;
    last.endsAt = at;
    last.tbHours = exposure === null ? 0 : tbHours(exposure);
    if (how === 'done') for (const name of run.shelves) copies.set(name, run.startedAt);
    const shelves = Object.fromEntries(run.shelves.map((name) => [name, how]));
    // Kept and read again, as a store does.
    state = JSON.parse(JSON.stringify(noteJob(state, { type: 'ended', shelves }, at)));
  }

  /** What is asked within the step before changes nothing. */
  function askBetween(at: number): void {
    const asks = days.asks ?? 1;
    for (let ask = 1; ask < asks; ask++) {
      const before = at - step + (ask * step) / asks;
      const seen = look(before);
      decide(days.job, state, seen, before);
      nextBackup(days.job, state, seen, before);
    }
  }

  function pass(at: number): void {
    if (within(days.unasked, at)) return;
    if (within(days.unasked, at - step)) state = noteJob(state, { type: 'opened', shelves: names }, at);
    else if (at > days.from) askBetween(at);
    look(at);
    const { run } = state;
    if (run !== null && at - run.startedAt >= days.runMinutes * MINUTE) {
      endRun(at, within(days.failing, run.startedAt) ? 'failed' : 'done');
    }
    if (state.run !== null && state.run.until !== null && at >= state.run.until) endRun(at, 'stopped');
    const seen = look(at);
    known.push({ at, state, seen });
    const decision = decide(days.job, state, seen, at);
    if (decision.do !== 'start') return;
    starts.push({ ...decision, at, endsAt: null, tbHours: Number.NaN });
    state = noteJob(state, { type: 'started', start: decision }, at);
  }

  for (let at = days.from; at <= days.to; at += step) pass(at);
  return {
    starts,
    known,
    exposedBytes: bytesOf(exposedAt(days.to)),
    lackingBytes: names.reduce((sum, name) => sum + bytesOf(lackedBy(name, days.to)), 0),
  };
}
