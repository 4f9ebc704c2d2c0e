import { HOURS_A_DAY } from './growth.ts';
import type { PlanModel } from './plan-model.ts';

/** A day of a shoot plan, by the hours since 1970 at which it begins and ends where it is shot. */
export interface PlannedDay {
  fromHour: number;
  toHour: number;
  bytes: number;
}

export interface PlannedShoot {
  project: string;
  days: readonly PlannedDay[];
}

/** Footage that came in these hours, the first included, the last not. */
export type CameBetween = (fromHour: number, toHour: number) => number;

/** So many planned days, the newest, say how well plans are kept. */
const JUDGED_DAYS = 10;
/** After so many planned days without footage, one after the other, the rest of the plan does not count. */
const MISSED_IN_A_ROW = 2;
/** A planned day on which less than this share of it came did not happen. */
const HAPPENED_SHARE = 0.05;

/** What the plans say of the coming days. `notHappening`: projects whose plan does not count any longer; its owner is to be asked. */
export function planAhead(
  shoots: readonly PlannedShoot[],
  came: CameBetween,
  nowHour: number,
): { model: PlanModel; notHappening: string[] } {
  const days = new Map<number, number>();
  const judged: { endedAt: number; ratio: number }[] = [];
  const notHappening: string[] = [];
  for (const shoot of shoots) {
    const past = shoot.days.filter(({ toHour }) => toHour <= nowHour);
    const ratios = past.map(({ fromHour, toHour, bytes }) => ({
      endedAt: toHour,
      ratio: came(fromHour, toHour) / bytes,
    }));
    judged.push(...ratios);
    const last = ratios.slice(-MISSED_IN_A_ROW);
    const isOff = last.length === MISSED_IN_A_ROW && last.every(({ ratio }) => ratio < HAPPENED_SHARE);
    const ahead = shoot.days.filter(({ toHour }) => toHour > nowHour);
    if (isOff && ahead.length > 0) notHappening.push(shoot.project);
    if (!isOff) for (const day of ahead) addAhead(days, day, came, nowHour);
  }
  const newest = judged.sort((one, other) => other.endedAt - one.endedAt).slice(0, JUDGED_DAYS);
  const kept = newest.filter(({ ratio }) => ratio >= HAPPENED_SHARE);
  const model = {
    days,
    ratios: kept.map(({ ratio }) => ratio),
    kept: kept.length,
    missed: newest.length - kept.length,
  };
  return { model, notHappening };
}

/** A day that has begun brings what has not come yet. */
function addAhead(
  days: Map<number, number>,
  { fromHour, toHour, bytes }: PlannedDay,
  came: CameBetween,
  nowHour: number,
): void {
  const isToday = fromHour <= nowHour;
  const left = isToday ? Math.max(0, bytes - came(fromHour, toHour)) : bytes;
  const at = isToday ? 0 : Math.floor(((fromHour + toHour) / 2 - nowHour) / HOURS_A_DAY);
  days.set(at, (days.get(at) ?? 0) + left);
}
