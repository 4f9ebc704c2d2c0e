import type { Instant } from '../model.ts';

/** The wall clock was set. */
export interface ClockJump {
  /** What it said when that was found. */
  at: Instant;
  /** By how much, all within a day together: put forward above 0, put back below. Milliseconds. */
  byMs: number;
}

/** How the wall clock stands to the one that counts since the machine was started, at the last look. */
export interface ClockWatch {
  /** Wall clock less that one, milliseconds. */
  offsetMs: number;
  jump: ClockJump | null;
}

/** Smaller steps are those of time servers, and nothing here hangs on less: backups begin by the minute (judgement, no source). */
const LEAST_MS = 60_000;
/** So long it is of interest. */
const KEPT_MS = 86_400_000;

/**
 * One more look. The other clock counts sleep as well, and neither knows of summer time: whatever moves between the two is a clock
 * that was set. `uptimeSeconds` is `null` where the machine does not tell it: then nothing is concluded.
 */
export function watchClock(before: ClockWatch | null, now: Instant, uptimeSeconds: number | null): ClockWatch | null {
  if (uptimeSeconds === null) return before;
  const offsetMs = now - uptimeSeconds * 1000;
  if (before === null) return { offsetMs, jump: null };
  const moved = offsetMs - before.offsetMs;
  const last = before.jump !== null && Math.abs(now - before.jump.at) < KEPT_MS + Math.abs(moved) ? before.jump : null;
  if (Math.abs(moved) < LEAST_MS) return { offsetMs, jump: last };
  const byMs = Math.round(moved) + (last?.byMs ?? 0);
  return { offsetMs, jump: Math.abs(byMs) < LEAST_MS ? null : { at: now, byMs } };
}
