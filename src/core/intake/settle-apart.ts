import { lookUp, withEntries } from './overlay-map.ts';
import { frameOf } from './sequence.ts';
import { byGravity, type Found, nextLook, type Refusal, tell, type Wait } from './settle-look.ts';
import type { Member, SettleState, SettleStep } from './settle-state.ts';

const NEVER = Number.POSITIVE_INFINITY;

type Bad = Found<Wait | Refusal>;

/**
 * Takes members out of a unit, so that they do not keep the others from being finished. Each goes on as a unit by itself,
 * with the time it has been quiet for; bad frames of one sequence stay together, they may be thousands.
 *
 * Whoever holds the units puts a member that changes, or turns out complete, back into the unit that it came from.
 */
export function setApart(
  state: SettleState,
  bad: readonly Bad[],
  { quietFor, now }: { quietFor: number; now: number },
): SettleStep {
  const frames = bad.filter(({ path }) => frameOf(path) !== null);
  const single = bad.filter(({ path }) => frameOf(path) === null).map((each) => [each]);
  const groups = frames.length > 0 ? [frames, ...single] : single;
  const members = withEntries(
    state.members,
    bad.map(({ path }): [string, null] => [path, null]),
  );
  const asides = groups.map((group) => asideOf(state, group, { quietFor, now }));
  const bytes = asides.reduce((left, aside) => left - aside.state.bytes, state.bytes);
  const generation = state.generation + 1;
  const rest: SettleState = { ...state, generation, members, bytes, phase: 'watching', asked: null, wakeAt: now };
  return { state: { ...rest, reason: 'not-quiet-yet', detail: null, about: null }, action: { do: 'part', asides } };
}

function asideOf(state: SettleState, group: readonly Bad[], times: { quietFor: number; now: number }): SettleStep {
  const own = group.flatMap(({ path }): [string, Member][] => {
    const member = lookUp(state.members, path);
    return member === undefined ? [] : [[path, member]];
  });
  const members: SettleState['members'] = { size: own.length, base: new Map(own), recent: new Map() };
  const bytes = own.reduce((sum, [, { stat }]) => sum + stat.size, 0);
  const alone: SettleState = { ...state, apart: true, members, bytes, asked: null, discarded: 0 };
  const sorted = group.toSorted(byGravity);
  const refusal = sorted.find((each): each is Found<Refusal> => each.finding.verdict === 'refuse');
  if (refusal !== undefined) {
    const { reason, detail } = refusal.finding;
    const refused = { ...tell(alone, refusal), phase: 'refused' as const, wakeAt: NEVER };
    return { state: refused, action: { do: 'refuse', reason, detail } };
  }
  const waits = sorted.filter((each): each is Found<Wait> => each.finding.verdict === 'wait');
  const until = Math.min(...new Set(waits.map(({ finding }) => nextLook(finding, alone, times))));
  const told = waits[0] === undefined ? alone : tell(alone, waits[0]);
  return { state: { ...told, phase: 'watching', wakeAt: until }, action: { do: 'wait', until } };
}
