import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { watch } from 'chokidar';
import { copySlowly, media, bench as processBench, type Running, until } from '../process/headroomd.ts';
import { type Figure, median, quantile } from './figure.ts';

const copies = 60;

/**
 * From the moment the last writer closes a file until it is taken as a clip: the whole daemon as a process, beside
 * chokidar's own write-finish option at its default of 2 s, on the same files at the same time.
 */
export async function benchIntake(): Promise<Figure[]> {
  const bench = processBench();
  const folder = join(bench.volume, 'Saltmarsh', 'Footage');
  mkdirSync(folder, { recursive: true });
  const peer = new Map<string, number>();
  const watcher = watch(folder, { awaitWriteFinish: { stabilityThreshold: 2000, pollInterval: 100 } });
  watcher.on('add', (path) => peer.set(path, Date.now()));
  try {
    const daemon = await bench.start([bench.volume]);
    const closed = await copyAll(folder);
    await until('all copies are taken', () => readyTimes(daemon).size >= copies, 60);
    await until('the peer has seen all copies', () => peer.size >= copies, 60);
    const ours = [...closed].map(([path, at]) => latency(readyTimes(daemon), path, at));
    const theirs = [...closed].map(([path, at]) => latency(peer, path, at));
    return [
      settled('last writer closes -> clip ready, median', median(ours), median(theirs), 0.5),
      settled('last writer closes -> clip ready, p99', quantile(ours, 0.99), quantile(theirs, 0.99), 1),
      early(ours, theirs),
    ];
  } finally {
    await watcher.close();
    await bench.clear();
  }
}

async function copyAll(folder: string): Promise<Map<string, number>> {
  const closed = new Map<string, number>();
  for (let number = 1; number <= copies; number++) {
    const path = join(folder, `C${String(number).padStart(4, '0')}.mov`);
    // Pauses from none to over half a second between parts: a copy that waits must not look finished.
    await copySlowly(join(media, 'tidewater-a.mov'), path, 3, (number * 37) % 600);
    closed.set(path, Date.now());
    await sleep((number * 53) % 400);
  }
  return closed;
}

/** When the daemon said that each file became a clip, from its log. */
function readyTimes(daemon: Running): Map<string, number> {
  const times = new Map<string, number>();
  for (const line of daemon.log().split('\n')) {
    if (!line.includes('"clip-ready"')) continue;
    const told = JSON.parse(line);
    times.set(told.file, Date.parse(told.time));
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

function early(ours: readonly number[], theirs: readonly number[]): Figure {
  const count = (values: readonly number[]) => values.filter((value) => value < 0).length;
  return {
    name: 'taken before the last writer closed',
    value: count(ours),
    unit: 'files',
    peer: { name: 'write-finish at 2 s', value: count(theirs) },
    goal: '0',
    holds: count(ours) === 0,
  };
}
