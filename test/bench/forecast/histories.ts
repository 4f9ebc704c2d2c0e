import { readFileSync } from 'node:fs';
import { HORIZON_DAYS } from '../../../src/core/forecast/overrun.ts';
import type { Figure } from '../figure.ts';
import { type Origin, ours, truthOf } from './backtest.ts';
import { datesFigures } from './dates.ts';
import type { History } from './simulated-shoots.ts';

/** Each history is played into volumes that it fills so many times. */
const FILLS = [3, 6, 12];
const LINE = 0.9;
/** When it is past this, it is emptied down to that. */
const EMPTIED_AT = 0.92;
const EMPTIED_TO = 0.45;
const BEFORE_FIRST = 14 * 24;

/** Real growth of public repositories; their capacity is invented. */
export function measureHistories(file: string): Figure[] {
  const { traces } = JSON.parse(readFileSync(file, 'utf8')) as {
    traces: Record<string, [hour: number, bytes: number][]>;
  };
  const all = Object.values(traces).flatMap((rows) => FILLS.map((fills) => historyOf(rows, fills)));
  const busy = all.flatMap((history) => originsOf(history, 'busy'));
  const any = all.flatMap((history) => originsOf(history, 'any'));
  const plain = datesFigures('real histories, asked at any time', any, ours(false), 0.55);
  return [
    ...datesFigures('real histories, asked on days on which something came', busy, ours(false), 0.55),
    // For most of these years nothing comes for months, and whoever says "never" is right: told, and held against nothing.
    ...plain.map((figure): Figure => ({ ...figure, goal: null, holds: null })),
  ];
}

function historyOf(rows: readonly [hour: number, bytes: number][], fills: number): History {
  const first = rows[0]?.[0] ?? 0;
  const last = rows.at(-1)?.[0] ?? 0;
  const hours = Array.from({ length: last - first + 1 }, (_, hour) => ({ hour, ingestBytes: 0, otherBytes: 0 }));
  for (const [hour, bytes] of rows) {
    const at = hours[hour - first];
    if (at !== undefined && bytes > 0) at.ingestBytes += bytes;
  }
  const capacityBytes = hours.reduce((sum, { ingestBytes }) => sum + ingestBytes, 0) / fills;
  let used = 0.2 * capacityBytes;
  const usedBytes = hours.map(({ ingestBytes }) => {
    used += ingestBytes;
    if (used > EMPTIED_AT * capacityBytes) used = EMPTIED_TO * capacityBytes;
    return used;
  });
  return { name: `filled ${fills} times`, capacityBytes, hours, used: usedBytes, plans: [] };
}

function originsOf(history: History, when: 'busy' | 'any'): Origin[] {
  const { hours, capacityBytes, used } = history;
  const origins: Origin[] = [];
  for (let hour = BEFORE_FIRST; hour < hours.length; hour++) {
    if (when === 'busy' && (hours[hour]?.ingestBytes ?? 0) <= 0.002 * capacityBytes) continue;
    const roomBytes = LINE * capacityBytes - (used[hour] ?? 0);
    const truth = truthOf(hours, hour, roomBytes);
    // Where the history ends before anyone can know, there is no truth.
    const isKnown = truth < HORIZON_DAYS || hour + HORIZON_DAYS * 24 < hours.length;
    if (roomBytes > 0 && isKnown) origins.push({ history, hour, roomBytes, truth });
    hour += when === 'busy' ? 20 : 100;
  }
  return origins;
}
