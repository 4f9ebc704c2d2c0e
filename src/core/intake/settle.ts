import type { ArrivalReason, Clip, FileStat, PathText } from '../model.ts';
import type { Evidence } from '../root-port.ts';
import { isEssenceName, isFootageName } from './kind.ts';
import { entries } from './overlay-map.ts';
import { setApart } from './settle-apart.ts';
import { isHeld, noteGone, noteReleased, noteSeen, reopenFootage, resume } from './settle-changes.ts';
import { differences, nextAfterSilence, nextOpenLook, refusalOf, weighUnit } from './settle-look.ts';
import type { ProbeResult, SettleEvent, SettleState, SettleStep } from './settle-state.ts';
import type { SettleLimits } from './weigh.ts';

const NEVER = Number.POSITIVE_INFINITY;

/** A probe result may be thrown away so often, without any change to be seen, before the file counts as unreadable. */
const DISCARD_LIMIT = 3;

/**
 * Decides what to do with a unit of arriving files: a function of (state, event, now) alone.
 *
 * seen -> quiet -> inspect -> all complete -> probe -> finish. Any change on the way starts over with a new generation.
 * `now` is monotonic seconds. At most one question (inspect, probe) is out at a time; each must be answered, if only
 * with an empty list.
 */
export function settle(state: SettleState, event: SettleEvent, now: number, limits: SettleLimits): SettleStep {
  switch (event.type) {
    case 'seen': {
      const seen = noteSeen(state, event.files, now, limits);
      if (event.open === true) return decide(seen === state ? state : stillOpen(seen, now), now);
      return decide(seen === state ? noteReleased(state, now, limits) : seen, now);
    }
    case 'resumed':
      return decide(resume(state, event.files, now, limits), now);
    case 'gone':
      return decide(noteGone(state, event.paths, now, limits), now);
    case 'tick':
      return decide(state, now);
    case 'evidence':
      return takeEvidence(state, event, now, limits);
    case 'probed':
      return takeProbe(state, event, now, limits);
  }
}

/** The next step of a unit of which nothing new was heard. */
function decide(state: SettleState, now: number): SettleStep {
  if (state.members.size === 0) return { state: { ...state, wakeAt: NEVER }, action: { do: 'forget' } };
  if (state.asked !== null) return { state, action: { do: 'wait', until: NEVER } };
  if (now < state.wakeAt) return { state, action: { do: 'wait', until: state.wakeAt } };
  if (isHeld(state)) return stall({ ...state, wakeAt: NEVER });
  const open = [...entries(state.members)].filter(([, { settled }]) => settled === null);
  if (open.length === 0) return conclude(state, now);
  const { generation } = state;
  const inspecting = { ...state, asked: { job: 'inspect' as const, generation, at: now } };
  return { state: inspecting, action: { do: 'inspect', generation, paths: open.map(([path]) => path) } };
}

/** All members are complete: what a probe can read is read, the rest is finished. */
function conclude(state: SettleState, now: number): SettleStep {
  const { generation } = state;
  const evidence = weakestEvidence(state);
  if (![...entries(state.members)].some(([path]) => isEssenceName(path))) return finish(state, evidence);
  const asked = { job: 'probe' as const, generation, at: now };
  const probing = {
    ...state,
    phase: 'probing' as const,
    reason: 'being-read' as const,
    detail: null,
    about: null,
    asked,
  };
  return { state: probing, action: { do: 'probe', generation, evidence } };
}

function takeEvidence(
  state: SettleState,
  event: Extract<SettleEvent, { type: 'evidence' }>,
  now: number,
  limits: SettleLimits,
): SettleStep {
  const { asked } = state;
  if (asked?.job !== 'inspect' || asked.generation !== event.generation) return decide(state, now);
  const answered = { ...state, asked: null };
  if (asked.generation !== state.generation) return decide(answered, now);
  if (event.evidence.length === 0) return decide(nextAfterSilence(answered, now), now);
  const { changed, gone } = differences(answered, event.evidence);
  if (changed.length + gone.length > 0) {
    const noted = noteSeen(noteGone(answered, gone, now, limits), changed, now, limits);
    return decide(gone.length === 0 && areOpen(changed, event.evidence) ? stillOpen(noted, now) : noted, now);
  }
  const look = weighUnit(answered, event.evidence, { askedAt: asked.at, now }, limits);
  if (look.outcome === 'stall') return stall(look.state);
  if (look.outcome === 'refuse') return refuse(look.state);
  if (look.outcome === 'part') return setApart(look.state, look.apart, { quietFor: asked.at - state.changedAt, now });
  return decide(look.state, now);
}

/** Whether all of these were found open for writing. */
function areOpen(files: readonly FileStat[], evidence: readonly Evidence[]): boolean {
  const open = new Set(evidence.filter(({ writers }) => writers === 'open').map(({ path }) => path));
  return files.every(({ path }) => open.has(path));
}

/** What grew is open, and known to be: it is looked at no sooner for having grown. */
function stillOpen(state: SettleState, now: number): SettleState {
  return { ...state, openLooks: state.openLooks + 1, wakeAt: Math.max(state.wakeAt, nextOpenLook(state, now)) };
}

function takeProbe(
  state: SettleState,
  event: Extract<SettleEvent, { type: 'probed' }>,
  now: number,
  limits: SettleLimits,
): SettleStep {
  const { asked } = state;
  if (asked?.job !== 'probe' || asked.generation !== event.generation) return decide(state, now);
  const answered = { ...state, asked: null };
  if (asked.generation !== state.generation) return decide(answered, now);
  if (event.outcome.ok) return finish(answered, weakestEvidence(answered));
  return takeFailure(answered, event.outcome, now, limits);
}

function takeFailure(
  state: SettleState,
  { reason, detail, path }: Extract<ProbeResult, { ok: false }>,
  now: number,
  limits: SettleLimits,
): SettleStep {
  if (reason === 'not-answered') {
    const { discarded, unanswered } = state;
    const again = { ...reopenFootage({ ...state, reason: 'not-quiet-yet' }, now, limits), discarded, unanswered };
    return decide(nextAfterSilence(again, now), now);
  }
  if (reason === 'changed-meanwhile' && state.discarded + 1 < DISCARD_LIMIT) {
    const again = reopenFootage({ ...state, reason }, now, limits);
    return decide({ ...again, discarded: state.discarded + 1 }, now);
  }
  const told = reason === 'changed-meanwhile' ? 'probe-failed' : reason;
  const found = path === undefined ? null : refusalOf(state, path, { reason: told, detail });
  if (found !== null) return setApart(state, [found], { quietFor: now - state.changedAt, now });
  return giveUp(state, path === undefined ? { reason: told, detail } : { reason: told, detail, path });
}

/** Nothing can be done with the unit as it is, whatever was going on with it: it is refused until it changes. */
export function giveUp(
  state: SettleState,
  { reason, detail, path }: { reason: ArrivalReason; detail: string; path?: PathText },
): SettleStep {
  return refuse({ ...state, phase: 'refused', reason, detail, about: path ?? null, asked: null, wakeAt: NEVER });
}

function finish(state: SettleState, evidence: Clip['evidence']): SettleStep {
  const reason = evidence === 'quiet-only' ? 'complete-by-quiet' : 'complete';
  return {
    state: { ...state, phase: 'ready', reason, detail: null, about: null, wakeAt: NEVER },
    action: { do: 'finish', evidence },
  };
}

function refuse(state: SettleState): SettleStep {
  return { state, action: { do: 'refuse', reason: state.reason, detail: state.detail } };
}

/** Told once; a stalled unit is still looked at, and any change takes it up again. */
function stall(state: SettleState): SettleStep {
  const { reason, detail, wakeAt } = state;
  if (state.phase === 'stalled') return { state, action: { do: 'wait', until: wakeAt } };
  return { state: { ...state, phase: 'stalled' }, action: { do: 'stall', reason, detail } };
}

const WEAKEST_FIRST: readonly Clip['evidence'][] = ['quiet-only', 'no-writer', 'container-whole'];

/** The weakest that any footage of the unit rests on; of all files where there is no footage. */
function weakestEvidence({ members }: SettleState): Clip['evidence'] {
  const all = [...entries(members)];
  const footage = all.filter(([path]) => isFootageName(path));
  const grounds = new Set((footage.length > 0 ? footage : all).map(([, { settled }]) => settled));
  return WEAKEST_FIRST.find((evidence) => grounds.has(evidence)) ?? 'quiet-only';
}
