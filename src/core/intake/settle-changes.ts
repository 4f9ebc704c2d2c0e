import type { FileStat, PathText } from '../model.ts';
import { compareSeen } from './compare.ts';
import { isFootageName } from './kind.ts';
import { entries, lookUp, withEntries } from './overlay-map.ts';
import { baseName, dirName } from './path-text.ts';
import { frameOf } from './sequence.ts';
import { grow, type Member, noGrowth, type SettleState } from './settle-state.ts';
import { nameBehindTemporary } from './system-names.ts';
import type { SettleLimits } from './weigh.ts';

/** A sequence is quiet when so many mean intervals between frames have passed without a new one. */
const FRAME_PATIENCE = 20;

/** Takes note of members as they are now. Nothing happens when none of them changed. */
export function noteSeen(
  state: SettleState,
  files: readonly FileStat[],
  now: number,
  limits: SettleLimits,
): SettleState {
  const changed = files.filter((file) => hasChanged(lookUp(state.members, file.path), file));
  if (changed.length === 0) return state;
  const first = state.generation === 0;
  const known = changed.map((file) => lookUp(state.members, file.path)?.stat);
  const sum = (amounts: readonly number[]) => amounts.reduce((total, amount) => total + amount, 0);
  const written = sum(changed.map((file, at) => Math.max(0, writtenBytes(file) - writtenBytes(known[at]))));
  const frames = changed.filter((file, at) => known[at] === undefined && frameOf(file.path) !== null).length;
  return reopen(
    {
      ...state,
      members: withEntries(state.members, changed.map(asMember)),
      bytes: state.bytes + sum(changed.map((file, at) => file.size - (known[at]?.size ?? 0))),
      reason: first ? 'not-quiet-yet' : 'growing',
      longestPause: first ? 0 : Math.max(state.longestPause, now - state.changedAt),
      frameInterval: first ? (frames > 0 ? 0 : null) : meanInterval(state, frames, now),
      growth: first ? noGrowth(now) : grow(state.growth, written, now),
    },
    now,
    limits,
  );
}

/**
 * Whoever looks after open files told of one that did not change: its writer may have closed it. What was concluded from the
 * writer does not count any more.
 */
export function noteReleased(state: SettleState, now: number, limits: SettleLimits): SettleState {
  if (state.openLooks === 0) return state;
  const earliest = Math.max(now, state.changedAt + neededQuiet(state, limits));
  return { ...state, openLooks: 0, wakeAt: Math.min(state.wakeAt, earliest) };
}

/** Takes members out, by their own path or by that of a folder above them. */
export function noteGone(
  state: SettleState,
  paths: readonly PathText[],
  now: number,
  limits: SettleLimits,
): SettleState {
  const gone = new Set(paths);
  const lost = [...entries(state.members)].filter(([path]) => isBelow(path, gone));
  if (lost.length === 0) return state;
  const members = withEntries(
    state.members,
    lost.map(([path]) => [path, null]),
  );
  const bytes = lost.reduce((left, [, { stat }]) => left - stat.size, state.bytes);
  return reopen({ ...state, members, bytes, reason: 'not-quiet-yet' }, now, limits);
}

/** After a restart everything is looked at again, and the quiet time begins anew: the old clock is not ours. */
export function resume(state: SettleState, files: readonly FileStat[], now: number, limits: SettleLimits): SettleState {
  const before = [...entries(state.members)].map(([, { stat }]) => stat);
  const members = withEntries(state.members, [...before, ...files].map(asMember));
  const bytes = [...entries(members)].reduce((sum, [, { stat }]) => sum + stat.size, 0);
  const fresh = {
    ...state,
    members,
    bytes,
    growth: noGrowth(now),
    asked: null,
    openLooks: 0,
    reason: 'not-quiet-yet' as const,
  };
  return members.size === 0 ? fresh : reopen(fresh, now, limits);
}

/** The probe's result says nothing of what lies there: the files it was made from are looked at again. */
export function reopenFootage(state: SettleState, now: number, limits: SettleLimits): SettleState {
  const footage = [...entries(state.members)].filter(([path]) => isFootageName(path));
  const members = withEntries(
    state.members,
    footage.map(([, { stat }]) => asMember(stat)),
  );
  const { looks } = state;
  return { ...reopen({ ...state, members }, now, limits), looks };
}

/**
 * Whether the unit is one temporary file whose name behind the decoration promises footage; it is held until it is
 * renamed. Other temporary files are ordinary: programs leave them lying about for years.
 */
export function isHeld({ members }: SettleState): boolean {
  const [only] = members.size === 1 ? entries(members) : [];
  const behind = only === undefined ? null : nameBehindTemporary(baseName(only[0]));
  return behind !== null && isFootageName(behind);
}

function reopen(state: SettleState, now: number, limits: SettleLimits): SettleState {
  const held = isHeld(state);
  return {
    ...state,
    generation: state.generation + 1,
    phase: 'watching',
    reason: held ? 'waits-for-rename' : state.reason,
    detail: null,
    about: null,
    changedAt: now,
    looks: 0,
    discarded: 0,
    unanswered: 0,
    wakeAt: now + (held ? limits.stalledAfter : neededQuiet(state, limits)),
  };
}

/** Quiet before the first look: longer for frames, which arrive one by one and are complete each by itself. */
function neededQuiet({ frameInterval }: SettleState, limits: SettleLimits): number {
  if (frameInterval === null) return limits.quiet;
  return Math.max(limits.quietWithoutStructure, Math.min(FRAME_PATIENCE * frameInterval, limits.quietRemote));
}

/** Running mean over about five arrivals. One long pause counts as four times the mean at most. */
function meanInterval({ frameInterval, changedAt }: SettleState, frames: number, now: number): number | null {
  if (frames === 0) return frameInterval;
  const interval = (now - changedAt) / frames;
  if (frameInterval === null || frameInterval === 0) return interval;
  return frameInterval + 0.2 * (Math.min(interval, 4 * frameInterval) - frameInterval);
}

function hasChanged(member: Member | undefined, file: FileStat): boolean {
  return compareSeen(member?.stat ?? null, file).verdict !== 'same';
}

function asMember(stat: FileStat): [string, Member] {
  return [stat.path, { stat, settled: null }];
}

/** A file reserved in full has its size from the start; what is allocated tells how far the writing has come. */
function writtenBytes(file: FileStat | undefined): number {
  if (file === undefined) return 0;
  return file.allocated > 0 ? Math.min(file.size, file.allocated) : file.size;
}

/** Whether a path is one of these, or lies in a folder that is. */
export function isBelow(path: PathText, gone: ReadonlySet<PathText>): boolean {
  for (let at = path; at !== ''; at = dirName(at)) if (gone.has(at)) return true;
  return false;
}
