import type { Instant } from '../model.ts';

export type StartReason = 'nightly' | 'catch-up' | 'retry' | 'card-finished' | 'exposure' | 'age';

/** A run that is to begin now. */
export interface Start {
  do: 'start';
  reason: StartReason;
  /** Those that it is for. */
  shelves: string[];
  /** It stops then, finished or not: the end of the window. `null`: it ends when it has finished. */
  until: Instant | null;
}

/** What is kept of one backup job, from a volume to its shelves. Serialisable as JSON; a new object for every step. */
export interface JobState {
  shelves: Record<string, KeptShelf>;
  /** Going on now. */
  run: Run | null;
  /** The last run that ended. */
  lastEnd: { at: Instant; reason: StartReason; how: RunEnd } | null;
}

export interface KeptShelf {
  /** Slots and cards up to here are dealt with: a run to this shelf began after them, or it was not a shelf of the job. */
  doneTo: Instant;
  /** Of the newest run to this shelf; `null`: none yet. */
  lastStart: Instant | null;
  lastSuccess: Instant | null;
  /** The last run to this shelf failed; `null`: it did not. */
  failure: Failure | null;
}

interface Failure {
  at: Instant;
  /** In a row. */
  count: number;
  /** Not before. */
  retryAt: Instant;
  /** The run that failed had to end by then. */
  until: Instant | null;
}

/** A run that goes on. */
export interface Run extends Omit<Start, 'do'> {
  startedAt: Instant;
}

/** `stopped`: at the end of its window, or by command; nothing was wrong. */
export type RunEnd = 'done' | 'failed' | 'stopped';

export type JobEvent =
  /** What `decide` said was begun. */
  | { type: 'started'; start: Start }
  /** Each shelf of the run, by name; one that is left out has failed. A daemon that ends in mid-run says nothing: `opened` does. */
  | { type: 'ended'; shelves: Record<string, RunEnd> }
  /** A run to one shelf that somebody asked for ended. */
  | { type: 'asked'; shelf: string; startedAt: Instant; how: RunEnd }
  /** The daemon begins: a run that is still noted was killed with the last one. The job's shelves as they are configured now. */
  | { type: 'opened'; shelves: readonly string[] };

export const NEW_JOB: JobState = { shelves: {}, run: null, lastEnd: null };

/** Until the first retry; doubles with each failure. A store that is full or a plug that is loose is often put right within the hour. */
const FIRST_RETRY_MS = 15 * 60_000;
const LONGEST_RETRY_MS = 4 * 3_600_000;
/** A clock that goes back by no more was set, not wrong: a slot is rather missed than run twice. */
const SET_BACK_MS = 25 * 3_600_000;

/** What is kept after an event. */
export function noteJob(state: JobState, event: JobEvent, now: Instant): JobState {
  switch (event.type) {
    case 'opened':
      return open(state, event.shelves, now);
    case 'started':
      return start(state, event.start, now);
    case 'ended':
      return end(state, event.shelves, now);
    case 'asked':
      return event.how === 'done' ? doneBy(state, event.shelf, event.startedAt, now) : state;
  }
}

/** All that was there when it began is on the shelf. One that failed owes nothing: whoever asked sees it, and the next slot comes. */
function doneBy(state: JobState, name: string, startedAt: Instant, now: Instant): JobState {
  const shelf = state.shelves[name] ?? newShelf(startedAt);
  const doneTo = Math.max(shelf.doneTo, startedAt);
  const done = { doneTo, lastStart: startedAt, lastSuccess: now, failure: null };
  return { ...state, shelves: { ...state.shelves, [name]: done } };
}

/** A shelf that is new owes none of the slots before it. */
function open(state: JobState, names: readonly string[], now: Instant): JobState {
  const { shelves, ...rest } = state.run === null ? state : end(state, {}, now);
  const added = names.filter((name) => shelves[name] === undefined);
  return { ...rest, shelves: { ...shelves, ...Object.fromEntries(added.map((name) => [name, newShelf(now)])) } };
}

function newShelf(now: Instant): KeptShelf {
  return { doneTo: now, lastStart: null, lastSuccess: null, failure: null };
}

function start(state: JobState, { do: _, ...run }: Start, now: Instant): JobState {
  const shelves = { ...state.shelves };
  for (const name of run.shelves) {
    const { doneTo, ...shelf } = shelves[name] ?? newShelf(now);
    // A clock that was set back a little does not make a slot owed again.
    shelves[name] = { ...shelf, doneTo: doneTo > now + SET_BACK_MS ? now : Math.max(doneTo, now), lastStart: now };
  }
  return { ...state, shelves, run: { ...run, startedAt: now } };
}

function end(state: JobState, how: Record<string, RunEnd>, now: Instant): JobState {
  const { run } = state;
  if (run === null) return state;
  const shelves = { ...state.shelves };
  for (const name of run.shelves)
    shelves[name] = endShelf(shelves[name] ?? newShelf(now), how[name] ?? 'failed', run, now);
  const ends = run.shelves.map((name) => how[name] ?? 'failed');
  const worst = (['failed', 'stopped'] as const).find((one) => ends.includes(one)) ?? 'done';
  return { shelves, run: null, lastEnd: { at: now, reason: run.reason, how: worst } };
}

function endShelf(shelf: KeptShelf, how: RunEnd, { until }: Run, now: Instant): KeptShelf {
  if (how === 'done') return { ...shelf, lastSuccess: now, failure: null };
  if (how === 'stopped') return { ...shelf, failure: null };
  const count = (shelf.failure?.count ?? 0) + 1;
  const pause = Math.min(FIRST_RETRY_MS * 2 ** (count - 1), LONGEST_RETRY_MS);
  return { ...shelf, failure: { at: now, count, retryAt: now + pause, until } };
}

/**
 * The state as it is to be read now: what was dated by a clock that was ahead holds nothing up. A slot may then get a second run, but
 * for a clock that is set back by less than a day.
 */
export function dateAnew(state: JobState, now: Instant): JobState {
  const shelves = Object.entries(state.shelves).map(([name, shelf]): [string, KeptShelf] => {
    const { doneTo, failure } = shelf;
    const isAhead = doneTo > now + SET_BACK_MS;
    const again = failure === null || failure.at <= now ? failure : { ...failure, retryAt: now };
    return [name, { ...shelf, doneTo: isAhead ? 0 : doneTo, failure: again }];
  });
  const { run, lastEnd } = state;
  return { shelves: Object.fromEntries(shelves), run, lastEnd: lastEnd === null || lastEnd.at > now ? null : lastEnd };
}
