import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { watch } from 'chokidar';
import { copySlowly, media } from '../../process/headroomd.ts';
import { type Figure, median, quantile } from '../figure.ts';
import { type Daemon, whenTrue } from './daemon.ts';
import type { Ground } from './ground.ts';

const COPIES = 60;

/** The write-finish option at its default of 2 s. */
export const WRITE_FINISH = { awaitWriteFinish: { stabilityThreshold: 2000, pollInterval: 100 } };

/**
 * From the moment the last writer closes a file until it is taken as a clip: the whole daemon as a process, beside
 * chokidar's own write-finish option, on the same files at the same time.
 */
export async function measureSettle(ground: Ground): Promise<Figure[]> {
  const volume = join(ground.place('settle'), 'stripe');
  const folder = join(volume, 'Saltmarsh', 'Footage');
  mkdirSync(folder, { recursive: true });
  const peer = new Map<string, number>();
  const watcher = watch(folder, WRITE_FINISH);
  watcher.on('add', (path) => peer.set(path, Date.now()));
  const daemon = await ground.fresh([volume]);
  try {
    await daemon.swept();
    const closed = await copyAll(folder);
    await whenTrue('all copies are taken', () => daemon.told('clip-ready').length >= COPIES);
    await whenTrue('the peer has seen all copies', () => peer.size >= COPIES);
    const ready = readyTimes(daemon);
    const ours = [...closed].map(([path, at]) => latency(ready, path, at));
    const theirs = [...closed].map(([path, at]) => latency(peer, path, at));
    return [
      settled('settle: last writer closes -> clip ready, median', median(ours), median(theirs), 0.5),
      settled('settle: last writer closes -> clip ready, p99', quantile(ours, 0.99), quantile(theirs, 0.99), 1),
    ];
  } finally {
    await watcher.close();
    await daemon.end();
  }
}

async function copyAll(folder: string): Promise<Map<string, number>> {
  const closed = new Map<string, number>();
  for (let number = 1; number <= COPIES; number++) {
    const path = join(folder, `C${String(number).padStart(4, '0')}.mov`);
    // Pauses from none to over half a second between parts: a copy that waits must not look finished.
    await copySlowly(join(media, 'tidewater-a.mov'), path, 3, (number * 37) % 600);
    closed.set(path, Date.now());
    await sleep((number * 53) % 400);
  }
  return closed;
}

/** When the daemon first said that each file became a clip, ms since 1970. */
export function readyTimes(daemon: Daemon): Map<string, number> {
  const times = new Map<string, number>();
  for (const { file, time } of daemon.told('clip-ready')) {
    if (!times.has(String(file))) times.set(String(file), Date.parse(time));
  }
  return times;
}

function latency(times: ReadonlyMap<string, number>, path: string, closedAt: number): number {
  const at = times.get(path);
  if (at === undefined) throw new Error(`${path} was never taken`);
  return (at - closedAt) / 1000;
}

function settled(name: string, value: number, peer: number, goal: number): Figure {
  return {
    name,
    value,
    unit: 's',
    peer: { name: 'write-finish at 2 s', value: peer },
    goal: `<= ${goal} s`,
    holds: value <= goal,
  };
}
