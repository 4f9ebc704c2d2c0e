import type { ArrivalReason, FileStat, PathText } from '../model.ts';
import type { Evidence } from '../root-port.ts';
import { compareSeen } from './compare.ts';
import { isFootageName } from './kind.ts';
import { entries, lookUp, type OverlayMap, withEntries } from './overlay-map.ts';
import { frameOf } from './sequence.ts';
import type { Member, SettleState } from './settle-state.ts';
import { type Finding, type Pace, type Role, reached, type SettleLimits, weigh } from './weigh.ts';

export type Wait = Extract<Finding, { verdict: 'wait' }>;
export type Refusal = Extract<Finding, { verdict: 'refuse' }>;
/** What was found of one member. `patience`: seconds of quiet for which it may hold the others up. */
export type Found<Kind extends Finding = Finding> = { path: PathText; finding: Kind; patience: number };

export type Look =
  | { outcome: 'settled' | 'wait' | 'stall' | 'refuse'; state: SettleState }
  /** These keep the others from being finished. */
  | { outcome: 'part'; state: SettleState; apart: Found<Wait | Refusal>[] };

/** Seconds of quiet for which an incomplete file may still grow although nobody has it open, where writers can be seen. */
const MAY_STILL_GROW = 5;

const INCOMPLETE: readonly ArrivalReason[] = ['incomplete', 'unwritten', 'empty'];

/** What a look found to be different from what was known. */
export function differences(
  { members }: SettleState,
  evidence: readonly Evidence[],
): { changed: FileStat[]; gone: PathText[] } {
  const known = evidence.filter(({ path }) => lookUp(members, path) !== undefined);
  const changed = known.flatMap(({ path, stat }) => {
    const before = lookUp(members, path)?.stat;
    return stat !== null && before !== undefined && compareSeen(before, stat).verdict !== 'same' ? [stat] : [];
  });
  const gone = known.filter(({ stat, error }) => stat === null && error === null).map(({ path }) => path);
  return { changed, gone };
}

/**
 * Weighs what was found of all members that were asked for at `askedAt`. While any is open for writing the unit waits.
 * Then members that are refused, or incomplete for longer than they may hold up the others, are taken out; where there
 * are no others a refusal stands, and an endless wait is called stalled when the unit was quiet for long enough.
 */
export function weighUnit(
  state: SettleState,
  evidence: readonly Evidence[],
  { askedAt, now }: { askedAt: number; now: number },
  limits: SettleLimits,
): Look {
  const quietFor = askedAt - state.changedAt;
  const found = weighMembers(state, evidence, quietFor, limits);
  const members = withSettled(state.members, found);
  const waits = found.filter((each): each is Found<Wait> => each.finding.verdict === 'wait');
  const refusals = found.filter((each): each is Found<Refusal> => each.finding.verdict === 'refuse');
  const open = waits.some(({ finding }) => finding.reason === 'open-for-writing');
  if (!open && state.members.size > 1 && !state.apart) {
    const apart = [...refusals, ...waits.filter((each) => holdsUp(each) && reached(quietFor, each.patience))];
    if (apart.length > 0) return { outcome: 'part', state: { ...state, members }, apart };
  }
  const [refusal] = refusals.toSorted(byGravity);
  if (refusal !== undefined && !open) {
    const refused = { ...state, members, phase: 'refused' as const, wakeAt: Number.POSITIVE_INFINITY };
    return { outcome: 'refuse', state: tell(refused, refusal) };
  }
  const [gravest] = waits.toSorted(byGravity);
  if (gravest === undefined) return { outcome: 'settled', state: { ...state, members, openLooks: 0, wakeAt: now } };
  const openLooks = open ? state.openLooks + 1 : 0;
  const waiting = tell({ ...state, members, looks: state.looks + 1, openLooks }, gravest);
  const endless = waits.some(({ finding }) => finding.ripeAt === null && finding !== UNANSWERED);
  if (endless && reached(quietFor, limits.stalledAfter)) {
    return { outcome: 'stall', state: { ...waiting, wakeAt: now + (open ? STALLED_OPEN : STALLED) } };
  }
  const next = waits.map(({ finding }) => nextLook(finding, state, { quietFor, now }));
  // Not before that a look can tell whether an incomplete one still has to be waited for.
  const patient = waits.filter((each) => holdsUp(each) && !reached(quietFor, each.patience));
  next.push(...patient.map(({ patience }) => state.changedAt + patience));
  return { outcome: 'wait', state: { ...waiting, wakeAt: Math.min(...new Set(next)) } };
}

/** A probe's refusal of a member, where it concerns that one alone: frames of a sequence are read as one. */
export function refusalOf(
  { members, apart }: SettleState,
  path: PathText,
  { reason, detail }: { reason: ArrivalReason; detail: string },
): Found<Refusal> | null {
  if (apart || members.size === 1 || lookUp(members, path) === undefined || frameOf(path) !== null) return null;
  return { path, finding: { verdict: 'refuse', reason, detail }, patience: 0 };
}

function holdsUp({ finding }: Found<Wait>): boolean {
  return INCOMPLETE.includes(finding.reason);
}

function weighMembers(
  { members, longestPause }: SettleState,
  evidence: readonly Evidence[],
  quietFor: number,
  limits: SettleLimits,
): Found[] {
  const byPath = new Map(evidence.map((each) => [each.path, each]));
  const all = [...entries(members)];
  const withFootage = all.some(([path]) => isFootageName(path));
  const role = (path: PathText): Role => (isFootageName(path) ? 'footage' : withFootage ? 'companion' : 'alone');
  return all
    .filter(([, { settled }]) => settled === null)
    .map(([path]) => {
      const answer = byPath.get(path);
      const seen = { role: role(path), quietFor, longestPause };
      const local = answer?.writers === 'none' ? MAY_STILL_GROW : limits.quietRemote;
      const patience = Math.min(local, limits.stalledAfter);
      return { path, finding: answer === undefined ? UNANSWERED : weigh(answer, seen, limits), patience };
    });
}

function withSettled(members: OverlayMap<Member>, found: readonly Found[]): OverlayMap<Member> {
  const changes = found.flatMap(({ path, finding }): [string, Member][] => {
    const member = lookUp(members, path);
    return finding.verdict === 'settled' && member !== undefined
      ? [[path, { ...member, settled: finding.evidence }]]
      : [];
  });
  return changes.length === 0 ? members : withEntries(members, changes);
}

/** Nothing was found out of this member: the looking failed. */
const UNANSWERED: Wait = { verdict: 'wait', reason: 'not-quiet-yet', detail: null, ripeAt: null, pace: 'remote' };

const GRAVEST_FIRST: readonly ArrivalReason[] = [
  'unreadable',
  'not-media',
  'open-for-writing',
  'unwritten',
  'incomplete',
  'empty',
  'not-quiet-yet',
];

/** The gravest reason first, then by path, so that the order of arrival cannot change what is told. */
export function byGravity(a: Found<Wait | Refusal>, b: Found<Wait | Refusal>): number {
  const order = GRAVEST_FIRST.indexOf(a.finding.reason) - GRAVEST_FIRST.indexOf(b.finding.reason);
  return order !== 0 ? order : a.path < b.path ? -1 : 1;
}

/** The state with the reason, and the member that it is about. */
export function tell(state: SettleState, { path, finding }: Found<Wait | Refusal>): SettleState {
  const { reason, detail } = finding;
  return { ...state, reason, detail, about: path };
}

/** Seconds between two looks at a stalled unit: a writer that is still there may close; the rest is told by events. */
const STALLED_OPEN = 15;
const STALLED = 60;

/**
 * Pauses between looks at what is open for writing, each twice the one before. Its close is told; looks show how it grows
 * where no event does (mapped memory), and find out the close that was not told after all.
 */
const FIRST_OPEN_PAUSE = 0.25;
const LONGEST_OPEN_PAUSE = 60;

/** From this pause on looks wait for the next whole second, so that those at many files are made together. */
const TOGETHER_FROM = 2;

/** When a unit that was found open for writing is looked at next. */
export function nextOpenLook({ openLooks }: SettleState, now: number): number {
  const pause = Math.min(LONGEST_OPEN_PAUSE, FIRST_OPEN_PAUSE * 2 ** openLooks);
  return pause < TOGETHER_FROM ? now + pause : Math.ceil(now + pause);
}

/** Looks at a copy that may end at any moment: 0.25 s apart at first, 0.4 s at most, so that its end is seen within half a second. */
const FIRST_PAUSE = 0.25;
const LONGEST_EAGER_PAUSE = 0.4;
const LONGEST_PAUSE = 5;
/** Quiet for so long, and nobody has it open: a copy that was broken off, most likely. */
const LIKELY_ABANDONED = 10;

export function nextLook(wait: Wait, state: SettleState, { quietFor, now }: { quietFor: number; now: number }): number {
  if (wait.ripeAt !== null) return state.changedAt + wait.ripeAt;
  const abandoned = quietFor >= LIKELY_ABANDONED;
  const eager = Math.min(LONGEST_EAGER_PAUSE, FIRST_PAUSE * 1.2 ** state.looks);
  const pause: Record<Pace, number> = {
    eager: abandoned ? between(LONGEST_EAGER_PAUSE, quietFor / 25, LONGEST_PAUSE) : eager,
    open: nextOpenLook(state, now) - now,
    remote: between(1, quietFor / 10, LONGEST_PAUSE),
  };
  return now + pause[wait.pace];
}

/** Longest pause, in seconds, before a question that got no answer is asked again. */
const LONGEST_SILENCE = 10;

/** The state after a question that got no answer: asked again later and later, and nothing is concluded from it. */
export function nextAfterSilence(state: SettleState, now: number): SettleState {
  const unanswered = state.unanswered + 1;
  return { ...state, unanswered, wakeAt: now + Math.min(LONGEST_SILENCE, 2 ** (unanswered - 1)) };
}

function between(least: number, value: number, most: number): number {
  return Math.min(most, Math.max(least, value));
}
