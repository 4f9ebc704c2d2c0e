import { spawn } from 'node:child_process';
import { setTimeout as sleep } from 'node:timers/promises';
import { type Figure, median } from '../figure.ts';
import { end, started } from './daemon.ts';
import { checkKnown, type Ground } from './ground.ts';
import { startWatcher } from './peer.ts';
import { familyOf, memoryOf } from './processes.ts';
import { fileCount, hundredThousand as shape } from './tree.ts';

const ROUNDS = 3;
/** Seconds after which what was needed for the start alone has been given back, on both sides. */
const REST = 30;
const MOST_MB = 15;

interface Row {
  ours: number;
  peer: number;
}

/**
 * What a known tree costs in memory when all has come to rest: the daemon's processes above those of a daemon with an
 * empty volume, and chokidar above an empty Node. All four run at the same time, so that they share pages alike.
 */
export async function measureMemory(ground: Ground): Promise<Figure[]> {
  const rows: Row[] = [];
  for (let round = 0; round < ROUNDS; round++) rows.push(await oneRound(ground));
  const ours = median(rows.map((row) => row.ours));
  return [
    {
      name: 'memory: per 100,000 files at rest, all processes, above an idle daemon',
      value: ours,
      unit: 'MB',
      peer: { name: 'chokidar alone, above an empty Node', value: median(rows.map((row) => row.peer)) },
      goal: `<= ${MOST_MB} MB`,
      holds: ours <= MOST_MB,
    },
  ];
}

async function oneRound(ground: Ground): Promise<Row> {
  await ground.prepare(shape);
  const volume = ground.tree(shape);
  const [idle, full] = [await ground.idle(), await ground.knowing(shape)];
  const empty = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1e6)'], { stdio: 'ignore' });
  await started(empty);
  const watcher = await startWatcher(volume);
  try {
    await Promise.all([idle.swept(), full.swept(), watcher.ready]);
    await sleep(REST * 1000);
    const of = (pid: number | undefined) => memoryOf(familyOf(pid ?? Number.NaN));
    const perHundredThousand = (bytes: number) => (bytes / 1e6 / fileCount(shape)) * 100_000;
    await checkKnown(full, shape);
    return {
      ours: perHundredThousand(of(full.pid) - of(idle.pid)),
      peer: perHundredThousand(of(watcher.pid) - of(empty.pid)),
    };
  } finally {
    await Promise.all([idle.end(), full.end(), end(empty), watcher.end()]);
  }
}
