import type { ArrivalReason, Clip, FileStat, PathText, UnitStage } from '../model.ts';
import type { Evidence } from '../root-port.ts';
import { emptyMap, type OverlayMap } from './overlay-map.ts';

/** One file of a unit. */
export interface Member {
  stat: FileStat;
  /** On what it was taken as complete; `null` while it is not. */
  settled: Clip['evidence'] | null;
}

/** How far a unit has come. Instants are monotonic seconds; plain data, a new object for every step. */
export interface SettleState {
  /** Grows with every change; answers to questions of an earlier generation are discarded. */
  generation: number;
  members: OverlayMap<Member>;
  /** Sizes of all members together. */
  bytes: number;
  /** `watching` covers everything from first sight to complete. A `stalled` unit is still watched. */
  phase: 'watching' | 'probing' | 'ready' | 'refused' | 'stalled';
  reason: ArrivalReason;
  detail: string | null;
  /** The member that the reason is about; `null` when it is about all of them. */
  about: PathText | null;
  /** Members that were taken out of their unit because they held it up. What is apart is not taken apart again. */
  apart: boolean;
  changedAt: number;
  longestPause: number;
  /** Mean time between two new frames of a sequence, in seconds; 0 while not known, `null` when this is none. */
  frameInterval: number | null;
  /** The one question that is out. */
  asked: { job: 'inspect' | 'probe'; generation: number; at: number } | null;
  /** Looks without a result since the last change. */
  looks: number;
  /** Looks in a row that found a writer, changes or not. */
  openLooks: number;
  /** Probe results thrown away since the last change. */
  discarded: number;
  /** Questions that got no answer since the last change: the root was away, or its process was. */
  unanswered: number;
  /** When the next `tick` is due; `Infinity` when only an event can change anything. */
  wakeAt: number;
  growth: Growth;
}

/** Smoothed growth: watched from `since` to `at`, last bytes added at `grownAt`, `pause` seconds after those before. */
export interface Growth {
  bytesPerSecond: number;
  since: number;
  at: number;
  grownAt: number;
  pause: number;
}

export type SettleEvent =
  /** Some members as they are now; those that did not change are passed over. `open`: seen to be open for writing. */
  | { type: 'seen'; files: readonly FileStat[]; open?: true }
  /** Members, or folders above them, are gone. */
  | { type: 'gone'; paths: readonly PathText[] }
  /** Answer to `inspect`. An empty list when the looking itself failed: it is tried again. */
  | { type: 'evidence'; generation: number; evidence: readonly Evidence[] }
  | { type: 'tick' }
  /** Answer to `probe`. */
  | { type: 'probed'; generation: number; outcome: ProbeResult }
  /** After a restart, or when a root came back: nothing asked before is answered any more, nothing found is trusted. */
  | { type: 'resumed'; files: readonly FileStat[] };

export type ProbeResult =
  | { ok: true }
  | {
      ok: false;
      /** `not-answered`: nothing was found out of the files, which says nothing about them. */
      reason: 'unreadable' | 'probe-failed' | 'not-media' | 'changed-meanwhile' | 'not-answered';
      detail: string;
      /** The file that was read, where it is known. */
      path?: PathText;
    };

/** What to do now. Whatever it is, a `tick` is due at the state's `wakeAt`. */
export type SettleAction =
  | { do: 'wait'; until: number }
  | { do: 'inspect'; generation: number; paths: PathText[] }
  /** All files are complete: read them. `evidence` is the weakest that any footage of the unit rests on. */
  | { do: 'probe'; generation: number; evidence: Clip['evidence'] }
  | { do: 'finish'; evidence: Clip['evidence'] }
  | { do: 'refuse'; reason: ArrivalReason; detail: string | null }
  | { do: 'stall'; reason: ArrivalReason; detail: string | null }
  /** These are no longer members of this unit: they are incomplete or refused, and each goes on as a unit by itself. */
  | { do: 'part'; asides: SettleStep[] }
  /** No file is left. */
  | { do: 'forget' };

export interface SettleStep {
  state: SettleState;
  action: SettleAction;
}

/** The state of a unit of which nothing was seen yet. */
export function newUnit(): SettleState {
  return {
    generation: 0,
    members: emptyMap(),
    bytes: 0,
    phase: 'watching',
    reason: 'not-quiet-yet',
    detail: null,
    about: null,
    apart: false,
    changedAt: 0,
    longestPause: 0,
    frameInterval: null,
    asked: null,
    looks: 0,
    openLooks: 0,
    discarded: 0,
    unanswered: 0,
    wakeAt: Number.POSITIVE_INFINITY,
    growth: noGrowth(0),
  };
}

/** Nothing has grown yet. */
export function noGrowth(now: number): Growth {
  return { bytesPerSecond: 0, since: now, at: now, grownAt: now, pause: 0 };
}

const COPYING: readonly ArrivalReason[] = ['growing', 'open-for-writing', 'waits-for-rename'];

/** The unit's line in the list of arrivals. */
export function arrivalOf(state: SettleState): { stage: UnitStage; reason: ArrivalReason; detail: string | null } {
  const { phase, reason, detail } = state;
  if (phase !== 'watching') return { stage: phase, reason, detail };
  return { stage: COPYING.includes(reason) ? 'copying' : 'settling', reason, detail };
}

/** Time constant of the shown rate, in seconds. */
const SMOOTHING = 5;

/** Nothing has grown for so many seconds: there is no rate. */
const STILL_AFTER = 3;

/**
 * Bytes per second that the unit has grown by, smoothed over about 5 s; `null` while nothing is seen to grow. What is known
 * to be open is looked at seldom: it counts as growing on for as long as it went unseen before.
 */
export function rateOf({ growth, openLooks }: SettleState, now: number): number | null {
  const watched = growth.at - growth.since;
  const unseen = openLooks > 0 ? growth.pause : 0;
  if (watched <= 0 || now - growth.grownAt >= Math.max(STILL_AFTER, 2 * unseen)) return null;
  // A smoothed value starts from nothing; dividing by the weight it has gathered takes that out again.
  const gathered = 1 - Math.exp(-watched / SMOOTHING);
  return (growth.bytesPerSecond / gathered) * Math.exp(-Math.max(0, now - growth.at - unseen) / SMOOTHING);
}

/** The smoothed rate after `bytes` more were seen. Exponential smoothing for unequal intervals. */
export function grow(growth: Growth, bytes: number, now: number): Growth {
  const passed = now - growth.at;
  const share = 1 - Math.exp(-passed / SMOOTHING);
  const added = passed > 0 ? (bytes / passed) * share : bytes / SMOOTHING;
  const last = bytes > 0 ? { grownAt: now, pause: now - growth.grownAt } : {};
  return { ...growth, bytesPerSecond: growth.bytesPerSecond * (1 - share) + added, at: now, ...last };
}
