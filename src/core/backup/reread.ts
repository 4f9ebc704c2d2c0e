import type { Instant } from '../model.ts';

/** A copy gets its turn when three quarters of its period are over: nights on which no backup runs then make none late. */
const TURN = 0.75;

/** Copies that were last read before are read again now. `period`: within which each is to be read again, in seconds. */
export function isTurnBefore(period: number, now: Instant): Instant {
  return now - TURN * period * 1000;
}

/** Copies that were last read before are late. */
export function isLateBefore(period: number, now: Instant): Instant {
  return now - period * 1000;
}
