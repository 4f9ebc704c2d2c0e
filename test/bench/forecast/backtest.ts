import type { GrowthHour } from '../../../src/core/forecast/growth.ts';
import { forecastOverrun, HORIZON_DAYS } from '../../../src/core/forecast/overrun.ts';
import { planAhead } from '../../../src/core/forecast/planned.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import { median } from '../figure.ts';
import type { History } from './simulated-shoots.ts';

/** A moment at which the date is asked for. */
export interface Origin {
  history: History;
  hour: number;
  roomBytes: number;
  /** Days until so much had come, no more than the horizon. */
  truth: number;
}

/** Dates, in days, that 10, 50 and 90 % of cases are to be before. */
export interface Told {
  at10: number;
  at50: number;
  at90: number;
}

export type Teller = (origin: Origin) => Told | null;

export function truthOf(hours: readonly GrowthHour[], from: number, room: number): number {
  let left = room;
  for (let hour = from + 1; hour <= from + HORIZON_DAYS * 24 && hour < hours.length; hour++) {
    const { ingestBytes = 0, otherBytes = 0 } = hours[hour] ?? {};
    left -= ingestBytes + otherBytes;
    if (left <= 0) return (hour - from) / 24;
  }
  return HORIZON_DAYS;
}

/** What monitoring rules do: the rate of the last 24 hours goes on. */
export const lastDayLine: Teller = ({ history: { hours }, hour, roomBytes }) => {
  let came = 0;
  for (let at = hour - 23; at <= hour; at++) came += (hours[at]?.ingestBytes ?? 0) + (hours[at]?.otherBytes ?? 0);
  const days = came > 0 ? Math.min(HORIZON_DAYS, roomBytes / came) : HORIZON_DAYS;
  return { at10: days, at50: days, at90: days };
};

export const ours =
  (withPlan: boolean): Teller =>
  ({ history, hour, roomBytes }) => {
    const hours = history.hours.slice(Math.max(0, hour - 24 * 120), hour + 1);
    const { crossings } = forecastOverrun({
      ...{
        hours,
        nowHour: hour,
        capacityBytes: history.capacityBytes,
        roomBytes: [roomBytes],
        draws: seededDraws(0.5),
      },
      plan: withPlan ? planAt(history, hour) : null,
    });
    const [crossing] = crossings ?? [];
    if (crossing === undefined) return null;
    const day = (at: number | null) => Math.min(HORIZON_DAYS, at ?? HORIZON_DAYS);
    return { at10: day(crossing.at10), at50: day(crossing.at50), at90: day(crossing.at90) };
  };

export function planAt({ plans, hours }: History, nowHour: number) {
  const shoots = plans.filter(({ declaredHour }) => declaredHour <= nowHour).map(({ shoot }) => shoot);
  const came = (from: number, to: number) => {
    let bytes = 0;
    for (let hour = Math.max(0, from); hour < Math.min(to, nowHour + 1); hour++) bytes += hours[hour]?.ingestBytes ?? 0;
    return bytes;
  };
  return planAhead(shoots, came, nowHour).model;
}

export interface Score {
  pinball: number;
  covered: number;
  before10: number;
  median: number;
  origins: number;
}

export function scoreOf(origins: readonly Origin[], teller: Teller): Score {
  const told = origins.map((origin) => ({ origin, told: teller(origin) }));
  const each = told.flatMap(({ origin: { truth }, told: one }) => (one === null ? [] : [{ truth, one }]));
  const share = (holds: (truth: number, one: Told) => boolean) =>
    each.filter(({ truth, one }) => holds(truth, one)).length / each.length;
  const loss = (q: number, off: number) => (off >= 0 ? q * off : (q - 1) * off);
  const sums = each.map(
    ({ truth, one }) => loss(0.1, truth - one.at10) + loss(0.5, truth - one.at50) + loss(0.9, truth - one.at90),
  );
  return {
    pinball: sums.reduce((sum, one) => sum + one, 0) / each.length,
    covered: share((truth, one) => truth >= one.at10 && truth <= one.at90),
    before10: share((truth, one) => truth < one.at10),
    median: median(each.map(({ truth }) => truth)),
    origins: each.length,
  };
}
