import type { Instant } from '../model.ts';
import { isoWithOffset } from '../units.ts';
import type { CapacityForecast } from './capacity-forecast.ts';
import type { ShootPlan } from './shoot-plan.ts';

/** How long is recorded in one go before room can be made, and on what that rests. Seconds, all cameras together. */
export interface WorkingSession {
  seconds: number;
  basis: 'plan' | 'configured' | 'shoot-days' | 'least';
}

export interface SessionQuestion {
  /** Shoots that are planned on the volume. */
  plans: readonly Pick<ShootPlan, 'days' | 'hours'>[];
  /** As its owner has set it, seconds; `null`: not set. */
  configured: number | null;
  /** What came to it, by the hour since 1970. */
  hours: readonly { hour: number; ingestBytes: number }[];
  forecast: Pick<CapacityForecast, 'basis' | 'shootDayBytes'> | null;
  /** What a second of recording takes up; `null`: not known. */
  bps: number | null;
  at: Instant;
  zone: string;
}

const HOUR_MS = 3_600_000;
/** A shoot goes on while footage came within so long, or a planned day is today or tomorrow. */
const GOES_ON_MS = 48 * HOUR_MS;
/** About one change of cards: with less, nobody has the time to make room (common practice, no source). */
const LEAST_SECONDS = 3_600;
/** An older stock that is copied at once seems to be a very long shoot day. */
const MOST_SECONDS = 12 * 3_600;

/** The session of the shoot that goes on, never shorter than an hour unless its owner says so; `null`: none goes on. */
export function workingSession(question: SessionQuestion): WorkingSession | null {
  const { configured, forecast, bps } = question;
  const planned = plannedHours(question);
  if (planned === null && !isGoingOn(question)) return null;
  if (configured !== null) return { seconds: configured, basis: 'configured' };
  if (planned !== null) return atLeast(planned * 3_600, 'plan');
  if (forecast === null || forecast.basis === 'not-enough-history' || bps === null || bps <= 0) {
    return { seconds: LEAST_SECONDS, basis: 'least' };
  }
  return atLeast(Math.min(MOST_SECONDS, forecast.shootDayBytes / bps), 'shoot-days');
}

function atLeast(seconds: number, basis: 'plan' | 'shoot-days'): WorkingSession {
  return seconds < LEAST_SECONDS ? { seconds: LEAST_SECONDS, basis: 'least' } : { seconds, basis };
}

/** Of a shoot of which a day is today or tomorrow; of several the longest. */
function plannedHours({ plans, at, zone }: SessionQuestion): number | null {
  const near = [at, at + 24 * HOUR_MS].map((instant) => isoWithOffset(instant, zone).slice(0, 10));
  const hours = plans.filter(({ days }) => days.some((day) => near.includes(day))).map((plan) => plan.hours);
  return hours.length === 0 ? null : Math.max(...hours);
}

function isGoingOn({ hours, at }: SessionQuestion): boolean {
  return hours.some(({ hour, ingestBytes }) => ingestBytes > 0 && at - (hour + 1) * HOUR_MS < GOES_ON_MS);
}
