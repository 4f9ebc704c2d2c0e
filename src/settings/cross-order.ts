import { ARRIVAL_DEFAULTS, THRESHOLD_DEFAULTS } from './defaults.ts';
import { textAt } from './look.ts';
import type { Tree } from './position.ts';
import { problemAt } from './problem.ts';
import type { Reading } from './reading.ts';
import type { SettingsProblem } from './settings.ts';
import { quotedShort } from './show.ts';
import { parseDuration, parseShare } from './units.ts';

interface Side {
  key: string;
  /** What holds when it is not written. */
  otherwise: string;
}

interface Order {
  table: string;
  lower: Side;
  upper: Side;
  /** May they be equal? */
  equal: boolean;
  read: (text: string) => Reading<number>;
}

const QUIET = { key: 'quiet', otherwise: ARRIVAL_DEFAULTS.quiet.value };
const REMOTE = { key: 'quiet_remote', otherwise: ARRIVAL_DEFAULTS.quietRemote.value };
const WITHOUT_STRUCTURE = { key: 'quiet_without_structure', otherwise: ARRIVAL_DEFAULTS.quietWithoutStructure.value };
const STALLED = { key: 'stalled_after', otherwise: ARRIVAL_DEFAULTS.stalledAfter.value };

/** Which setting must stay below which: a quiet time that knows less may not be shorter, and nothing stalls before it could be done. */
const ORDERS: readonly Order[] = [
  {
    table: 'thresholds',
    lower: { key: 'speed_clear', otherwise: THRESHOLD_DEFAULTS.speedClear.value },
    upper: { key: 'speed_raise', otherwise: THRESHOLD_DEFAULTS.speedRaise.value },
    equal: false,
    read: parseShare,
  },
  { table: 'arrivals', lower: QUIET, upper: WITHOUT_STRUCTURE, equal: true, read: parseDuration },
  { table: 'arrivals', lower: QUIET, upper: REMOTE, equal: true, read: parseDuration },
  { table: 'arrivals', lower: WITHOUT_STRUCTURE, upper: STALLED, equal: false, read: parseDuration },
  { table: 'arrivals', lower: REMOTE, upper: STALLED, equal: false, read: parseDuration },
  {
    table: 'arrivals',
    lower: { key: 'sweep_every', otherwise: ARRIVAL_DEFAULTS.sweepEvery.value },
    upper: { key: 'full_sweep_every', otherwise: ARRIVAL_DEFAULTS.fullSweepEvery.value },
    equal: true,
    read: parseDuration,
  },
];

/** Pairs of settings in the wrong order, told at the one that is written (the upper one when both are). */
export function orderProblems(tree: Tree): SettingsProblem[] {
  return ORDERS.flatMap((order) => {
    const lower = textAt(tree, [order.table, order.lower.key]);
    const upper = textAt(tree, [order.table, order.upper.key]);
    const low = order.read(lower?.text ?? order.lower.otherwise);
    const high = order.read(upper?.text ?? order.upper.otherwise);
    if (!low.ok || !high.ok || low.value < high.value || (order.equal && low.value === high.value)) return [];
    if (upper !== null) {
      const expected = `${order.equal ? 'no less than' : 'more than'} ${described(order.lower, lower?.text)}`;
      return [problemAt(upper.at, upper.path, expected, quotedShort(upper.text))];
    }
    if (lower === null) return [];
    const expected = `${order.equal ? 'no more than' : 'less than'} ${described(order.upper, undefined)}`;
    return [problemAt(lower.at, lower.path, expected, quotedShort(lower.text))];
  });
}

function described(side: Side, written: string | undefined): string {
  return written === undefined
    ? `${side.key} ("${side.otherwise}" by default)`
    : `${side.key} (${quotedShort(written)})`;
}
