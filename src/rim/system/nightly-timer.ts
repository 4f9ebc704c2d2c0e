import { schedule } from 'node-cron';

/** Calls `wake` at the times of the day that cron's fields say, on the clocks of a zone. The returned function ends it. */
export type NightlyTimer = (fields: string, zone: string, wake: () => void) => () => void;

/**
 * Wakes on the second. What it does not know is made up for by who is woken: it is silent about what was due while the machine slept, nobody
 * ran, or the clocks were put forward.
 */
export const nightlyTimer: NightlyTimer = (fields, zone, wake) => {
  const task = schedule(fields, wake, { timezone: zone });
  return () => void task.destroy();
};
