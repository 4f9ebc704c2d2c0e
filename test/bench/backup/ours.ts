import { readFileSync } from 'node:fs';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { setTimeout as delay } from 'node:timers/promises';
import type { CopyOutcome } from '../../../src/core/backup/copy-port.ts';
import { createCopyPort } from '../../../src/rim/backup/copy-port.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { type Ground, MARKER } from './ground.ts';

export interface OursRun {
  seconds: number;
  /** Of the job's process and those that it started. */
  cpuSeconds: number;
  /** Of this process, whose part is the daemon's. */
  delayP99Ms: number;
  calmP99Ms: number;
}

const RESOLUTION_MS = 1;
const CALM_MS = 1000;

/** @throws when a file is not copied and read back from the drive */
export async function copyOurs({ volume, shelf, items }: Ground): Promise<OursRun> {
  const port = createCopyPort({ clock: systemClock });
  const outcomes: CopyOutcome[] = [];
  const calmP99Ms = await delayDuring(() => delay(CALM_MS));
  const cpu = childrenSeconds();
  const began = performance.now();
  const delayP99Ms = await delayDuring(async () => {
    const guard = { root: shelf, marker: MARKER, content: 'shelf-a', device: null };
    const job = { volume, shelf: guard, pace: { paused: false, ceilingBps: null } };
    const run = port.copy(
      job,
      items,
      { settled: (batch) => void outcomes.push(...batch) },
      new AbortController().signal,
    );
    const { ended } = await run.end;
    if (ended !== 'done') throw new Error(`the job ended: ${ended}`);
  });
  const seconds = (performance.now() - began) / 1000;
  const verified = outcomes.filter((one) => one.is === 'copied' && one.grade === 'device').length;
  if (verified !== items.length) throw new Error(`only ${verified} of ${items.length} files were verified`);
  return { seconds, cpuSeconds: childrenSeconds() - cpu, delayP99Ms, calmP99Ms };
}

async function delayDuring(work: () => Promise<unknown>): Promise<number> {
  const histogram = monitorEventLoopDelay({ resolution: RESOLUTION_MS });
  histogram.enable();
  await work();
  histogram.disable();
  return histogram.percentile(99) / 1e6;
}

/** Of ended children of this process: proc_pid_stat(5), fields 16 and 17, in hundredths of a second. */
function childrenSeconds(): number {
  const fields = readFileSync('/proc/self/stat', 'utf8').split(') ').at(-1)?.split(' ') ?? [];
  return (Number(fields[13]) + Number(fields[14])) / 100;
}
