import { readdirSync } from 'node:fs';
import { monitorEventLoopDelay, performance } from 'node:perf_hooks';
import type { ProcessFigures } from '../../core/metrics/daemon-families.ts';
import type { Clock } from '../../core/ports.ts';

export interface ProcessWatch {
  figures(): ProcessFigures;
  close(): void;
}

/** The delay is watched in steps of this, which are no delay. */
const STEP_MS = 50;
const MINUTE_MS = 60_000;

/** What this process uses. The delay of its event loop is watched only when asked for: that wakes it 20 times a second. */
export function createProcessWatch(clock: Clock, watchesDelay: boolean): ProcessWatch {
  const delay = watchesDelay ? monitorEventLoopDelay({ resolution: STEP_MS }) : null;
  let lastMinute: ProcessFigures['loopDelay'] = null;
  let cancel = (): void => {};

  function turn(): void {
    if (delay === null) return;
    lastMinute = delay.count === 0 ? null : delayOf(delay);
    delay.reset();
    cancel = clock.after(MINUTE_MS, turn);
  }

  delay?.enable();
  cancel = clock.after(delay === null ? 0 : MINUTE_MS, turn);
  return {
    figures: () => ({ ...figuresNow(clock), loopDelay: lastMinute }),
    close() {
      cancel();
      delay?.disable();
    },
  };
}

function figuresNow(clock: Clock): Omit<ProcessFigures, 'loopDelay'> {
  const { user, system } = process.cpuUsage();
  const { rss, heapUsed } = process.memoryUsage();
  return {
    startedAt: clock.now() / 1000 - process.uptime(),
    cpuSeconds: (user + system) / 1e6,
    ...{ residentBytes: rss, heapUsedBytes: heapUsed, openFiles: openFiles() },
    activeResources: process.getActiveResourcesInfo().length,
    loopBusySeconds: performance.eventLoopUtilization().active / 1000,
  };
}

/** Less the one that is open for looking. */
function openFiles(): number | null {
  try {
    return readdirSync('/proc/self/fd').length - 1;
  } catch {
    return null;
  }
}

function delayOf(delay: Pick<ReturnType<typeof monitorEventLoopDelay>, 'percentile' | 'max'>) {
  const seconds = (ns: number) => Math.max(0, ns / 1e6 - STEP_MS) / 1000;
  return { p50: seconds(delay.percentile(50)), p99: seconds(delay.percentile(99)), max: seconds(delay.max) };
}
