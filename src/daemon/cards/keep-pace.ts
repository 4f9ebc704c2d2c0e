import type { CopyRun, Pace } from '../../core/backup/copy-port.ts';
import type { Clock } from '../../core/ports.ts';

/** How often the pace is asked for. */
const PACE_MS = 2_000;

/** Asks again and again how fast a job may go, and tells it. The returned function ends that. */
export function keepPace(run: Pick<CopyRun, 'pace'>, pace: () => Pace, clock: Pick<Clock, 'after'>): () => void {
  let last = JSON.stringify(pace());
  let cancel = (): void => {};
  const ask = (): void => {
    const now = pace();
    if (JSON.stringify(now) !== last) {
      last = JSON.stringify(now);
      run.pace(now);
    }
    cancel = clock.after(PACE_MS, ask);
  };
  cancel = clock.after(PACE_MS, ask);
  return () => cancel();
}
