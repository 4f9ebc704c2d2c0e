import type { ArrivalReason, Clip } from '../model.ts';
import type { Evidence } from '../root-port.ts';

/** When an arrival counts as complete, in seconds. */
export interface SettleLimits {
  /** No change for this long before a file is looked at. */
  quiet: number;
  /** No change for this long where the content cannot tell whether it is whole. */
  quietWithoutStructure: number;
  /** The same where writers cannot be seen. */
  quietRemote: number;
  /** Incomplete and quiet for this long: stalled. */
  stalledAfter: number;
}

/** What a file is to its unit. Judged by its content: `footage`. Not: a `companion` of footage, or something `alone`. */
export type Role = 'footage' | 'companion' | 'alone';

export interface Circumstances {
  role: Role;
  /** Seconds without a change when the look was ordered. */
  quietFor: number;
  /** Longest pause between two changes of this unit so far, in seconds. */
  longestPause: number;
}

export type Finding =
  | { verdict: 'settled'; evidence: Clip['evidence'] }
  | { verdict: 'refuse'; reason: ArrivalReason; detail: string | null }
  | {
      verdict: 'wait';
      reason: ArrivalReason;
      detail: string | null;
      /** Seconds of quiet after which a look will decide; `null`: nobody knows, look again and again. */
      ripeAt: number | null;
      pace: Pace;
    };

/** How eagerly to look again: a copy that may end at any moment, one whose end is told, a mount where looks are dear. */
export type Pace = 'eager' | 'open' | 'remote';

/** Where writers cannot be seen, a whole file must still have been quiet for this long, in seconds. */
const LEAST_REMOTE_QUIET = 5;

/**
 * Where time stamps are whole seconds (FAT: two), a rewrite within the same one shows in none: what was read before it would
 * stand for ever. After so many seconds of quiet every rewrite has another stamp, or is over.
 */
const COARSE_STAMP_QUIET = 2.5;
const SECOND_NS = 1_000_000_000n;

/** Times are sums and differences of seconds; a look ordered for an instant must not miss it by rounding. */
const ROUNDING = 1e-6;

/**
 * Weighs what was found of one file. Complete is: quiet, AND no writer, AND whole where the content can tell; never size
 * or wholeness alone while a process may still write. A file reserved in full with its index first looks whole from the
 * first moment; a file that is opened anew for every chunk has no writer in between: each condition catches the other's gap.
 */
export function weigh(evidence: Evidence, seen: Circumstances, limits: SettleLimits): Finding {
  const unreadable = evidence.error !== null;
  if (unreadable && seen.role !== 'companion')
    return { verdict: 'refuse', reason: 'unreadable', detail: evidence.error };
  if (!unreadable && evidence.writers === 'open') return weighOpen(seen, limits);
  return seen.role === 'footage' ? weighFootage(evidence, seen, limits) : weighOther(evidence, seen, limits);
}

/**
 * A file that is open for writing is waited for. Only what is no footage is taken as it is after a long quiet: programs
 * keep such files open all day, and nobody would be helped by calling them stalled.
 */
function weighOpen({ role, quietFor }: Circumstances, { stalledAfter }: SettleLimits): Finding {
  if (role !== 'footage' && reached(quietFor, stalledAfter)) return { verdict: 'settled', evidence: 'quiet-only' };
  return { verdict: 'wait', reason: 'open-for-writing', detail: null, ripeAt: null, pace: 'open' };
}

function weighFootage(evidence: Evidence, seen: Circumstances, limits: SettleLimits): Finding {
  const { wholeness, detail } = evidence;
  const remote = evidence.writers !== 'none';
  const after = (seconds: number, reason: ArrivalReason, finding: Finding): Finding =>
    ripen(seen, Math.max(seconds, stampQuiet(evidence)), reason, detail, finding);
  switch (wholeness) {
    case 'whole':
      return after(remote ? remoteQuiet(seen, limits) : 0, 'not-quiet-yet', settledAs('container-whole'));
    case 'no-structure':
      if (remote) return after(limits.quietRemote, 'not-quiet-yet', settledAs('quiet-only'));
      return after(limits.quietWithoutStructure, 'not-quiet-yet', settledAs('no-writer'));
    case 'empty':
      return after(emptyQuiet(remote, limits), 'empty', { verdict: 'refuse', reason: 'empty', detail });
    case 'not-media':
      return after(remote ? limits.quietRemote : 0, 'not-quiet-yet', {
        verdict: 'refuse',
        reason: 'not-media',
        detail,
      });
    case 'cut':
    case 'unwritten': {
      const reason = wholeness === 'cut' ? 'incomplete' : 'unwritten';
      return { verdict: 'wait', reason, detail, ripeAt: null, pace: remote ? 'remote' : 'eager' };
    }
  }
}

/** The content of sidecars and documents is not judged: some are empty by right. A change of theirs opens the unit again. */
function weighOther(evidence: Evidence, seen: Circumstances, limits: SettleLimits): Finding {
  const remote = evidence.writers !== 'none';
  const companionQuiet = remote ? remoteQuiet(seen, limits) : 0;
  const aloneQuiet = remote ? limits.quietRemote : limits.quietWithoutStructure;
  const needed = Math.max(stampQuiet(evidence), seen.role === 'companion' ? companionQuiet : aloneQuiet);
  return ripen(seen, needed, 'not-quiet-yet', null, settledAs(remote ? 'quiet-only' : 'no-writer'));
}

function ripen(
  { quietFor }: Circumstances,
  needed: number,
  reason: ArrivalReason,
  detail: string | null,
  ripe: Finding,
): Finding {
  return reached(quietFor, needed) ? ripe : { verdict: 'wait', reason, detail, ripeAt: needed, pace: 'eager' };
}

/** Both times of a file are whole seconds once in 10^18 where stamps are fine; a copy that keeps its time has a fine change time. */
function stampQuiet({ stat }: Evidence): number {
  const coarse = stat !== null && stat.mtimeNs % SECOND_NS === 0n && stat.ctimeNs % SECOND_NS === 0n;
  return coarse ? COARSE_STAMP_QUIET : 0;
}

/** Twice the longest pause seen, at least 5 s, at most what is asked of a file without structure. */
function remoteQuiet({ longestPause }: Circumstances, { quietRemote }: SettleLimits): number {
  return Math.min(quietRemote, Math.max(LEAST_REMOTE_QUIET, 2 * longestPause));
}

/** A copying program may make all files empty first; a twentieth of the time that makes a copy stalled, 3 to 30 s. */
function emptyQuiet(remote: boolean, { stalledAfter, quietRemote }: SettleLimits): number {
  const local = Math.min(30, Math.max(3, stalledAfter / 20));
  return remote ? Math.max(local, quietRemote) : local;
}

/** Whether so many seconds of quiet are reached. */
export function reached(quietFor: number, needed: number): boolean {
  return quietFor + ROUNDING >= needed;
}

function settledAs(evidence: Clip['evidence']): Finding {
  return { verdict: 'settled', evidence };
}
