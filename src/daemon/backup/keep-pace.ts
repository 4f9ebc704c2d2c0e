import type { CopyRun, Pace } from '../../core/backup/copy-port.ts';
import type { Clock } from '../../core/ports.ts';

/** How often the pace is asked for. */
const PACE_MS = 2_000;

/**
 * Asks again and again how fast a job may go, and tells it, and whoever listens, when that changes. The returned function ends it.
 * `pace`: what it may do now; the job began with what this said.
 */
export function keepPace(clock: Clock, pace: () => Pace, job: CopyRun, changed: (pace: Pace) => void): () => void {
  let cancel = (): void => {};
  let last = JSON.stringify(pace());
  const ask = (): void => {
    const now = pace();
    if (JSON.stringify(now) !== last) {
      last = JSON.stringify(now);
      job.pace(now);
      changed(now);
    }
    cancel = clock.after(PACE_MS, ask);
  };
  ask();
  return () => cancel();
}
