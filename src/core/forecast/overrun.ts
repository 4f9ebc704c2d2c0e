import type { Draws } from './draws.ts';
import { type GrowthHour, growthDays, HOURS_A_DAY } from './growth.ts';
import { drawPath, type Session } from './paths.ts';
import type { PlanModel } from './plan-model.ts';
import { fitShoots, type ShootModel } from './shoot-model.ts';

/** Days from now until a line is crossed, `null`: later than the horizon, if ever. */
export interface Crossing {
  at10: number | null;
  at50: number | null;
  at90: number | null;
  /** Chances, 0..1. */
  within24h: number;
  within72h: number;
  within7d: number;
}

/** Bytes that will have come in so many days from now: 10, 50 and 90 % of futures bring no more. */
export interface Band {
  days: number;
  low: number;
  likely: number;
  high: number;
}

export type ForecastBasis = 'not-enough-history' | 'early-estimate' | 'shoot-days-seen';

export interface Forecast {
  basis: ForecastBasis;
  shootDays: number;
  /** What such a day brings: in half of the cases more. */
  shootDayBytes: number;
  /** What will have come by then; `null`: there is nothing to tell it from. */
  band: Band[] | null;
  /** One for each line; `null`: there is nothing to tell it from. */
  crossings: Crossing[] | null;
}

export interface ForecastInput {
  hours: readonly GrowthHour[];
  /** Hours since 1970, whole. */
  nowHour: number;
  capacityBytes: number;
  /** Room until each line; not above 0: it is crossed already. */
  roomBytes: readonly number[];
  plan: PlanModel | null;
  /** Begun anew for every forecast, with one seed for each volume: the same history gives the same dates. */
  draws: Draws;
}

export const HORIZON_DAYS = 45;
const PATHS = 300;
const FEWEST_DAYS = 3;
const EARLY_DAYS = 8;

/** Truth came before what the model itself calls 10 % too often: its 7 % date is told as such (own simulation, and real histories). */
const TOLD_AS_10 = 0.07;

/** When so much room will be used up if nothing is deleted: each line by the same drawn futures. */
export function forecastOverrun(input: ForecastInput): Forecast {
  const { model, basis, paths } = drawFutures(input);
  const rest = { basis, shootDays: model.activeDays, shootDayBytes: Math.exp(model.size.mean) };
  if (paths === null) return { ...rest, band: null, crossings: null };
  const crossings = input.roomBytes.map((room) =>
    tell(paths.map((path) => crossingOf(path, room)).sort((one, other) => one - other)),
  );
  return { ...rest, band: bandOf(paths), crossings };
}

/** Chance, 0..1, that the first line is not crossed within so many days; `null`: there is nothing to tell it from. */
export function chanceToKeep(input: ForecastInput, days: number): number | null {
  const { paths } = drawFutures(input);
  const [room] = input.roomBytes;
  if (paths === null || room === undefined) return null;
  return paths.filter((path) => crossingOf(path, room) > days).length / paths.length;
}

function drawFutures(input: ForecastInput): { model: ShootModel; basis: ForecastBasis; paths: number[][] | null } {
  const model = fitShoots(growthDays(input.hours, input.nowHour), input.capacityBytes);
  const isPlanned = input.plan !== null && isWithinHorizon(input.plan);
  if (model.activeDays < FEWEST_DAYS && !isPlanned) return { model, basis: 'not-enough-history', paths: null };
  const session = sessionOf(input);
  const paths = Array.from({ length: PATHS }, () =>
    drawPath({ model, session, plan: input.plan, days: HORIZON_DAYS, draws: input.draws }),
  );
  return { model, basis: model.activeDays <= EARLY_DAYS ? 'early-estimate' : 'shoot-days-seen', paths };
}

/** A shoot that begins later changes nothing that is told here, and is no ground to tell a date. */
export function isWithinHorizon({ days }: PlanModel): boolean {
  return days.keys().some((day) => day < HORIZON_DAYS);
}

const BAND_STEP_DAYS = 3;

function bandOf(paths: readonly number[][]): Band[] {
  const sums = new Float64Array(paths.length);
  const band: Band[] = [];
  for (let day = 0; day < HORIZON_DAYS; day++) {
    for (const [index, path] of paths.entries()) sums[index] = (sums[index] ?? 0) + (path[day] ?? 0);
    if ((day + 1) % BAND_STEP_DAYS !== 0) continue;
    const sorted = sums.slice().sort();
    const at = (q: number) => sorted[Math.max(0, Math.ceil(q * sorted.length) - 1)] ?? 0;
    band.push({ days: day + 1, low: at(0.1), likely: at(0.5), high: at(0.9) });
  }
  return band;
}

/** Days until the sum of the path reaches the room, evenly within the day; infinite: it does not. */
function crossingOf(path: readonly number[], roomBytes: number): number {
  let left = roomBytes;
  if (left <= 0) return 0;
  for (const [day, bytes] of path.entries()) {
    if (bytes >= left) return day + left / bytes;
    left -= bytes;
  }
  return Number.POSITIVE_INFINITY;
}

function tell(times: readonly number[]): Crossing {
  const within = (days: number) => times.filter((time) => time <= days).length / times.length;
  return {
    at10: quantile(times, TOLD_AS_10),
    at50: quantile(times, 0.5),
    at90: quantile(times, 0.9),
    within24h: within(1),
    within72h: within(3),
    within7d: within(7),
  };
}

/** The smallest drawn time that at least the share q of them does not exceed: no line is drawn between a date and "never". */
function quantile(sorted: readonly number[], q: number): number | null {
  const time = sorted[Math.max(0, Math.ceil(q * sorted.length) - 1)] ?? Number.POSITIVE_INFINITY;
  return Number.isFinite(time) ? time : null;
}

const SESSION_HOURS = 4;
const SESSION_GAP_HOURS = 5;

/** Footage came within the last hours: what came since the last gap in which none did. */
function sessionOf({ hours, nowHour }: ForecastInput): Session | null {
  const lately = new Map<number, number>();
  for (const { hour, ingestBytes } of hours) {
    if (hour <= nowHour && hour > nowHour - HOURS_A_DAY && ingestBytes > 0) lately.set(hour, ingestBytes);
  }
  const newest = Math.max(...lately.keys());
  if (newest <= nowHour - SESSION_HOURS || !Number.isFinite(newest)) return null;
  let bytes = 0;
  let last = newest;
  for (let hour = newest; hour > nowHour - HOURS_A_DAY && last - hour < SESSION_GAP_HOURS; hour--) {
    const came = lately.get(hour) ?? 0;
    if (came > 0) last = hour;
    bytes += came;
  }
  return { bytes };
}
