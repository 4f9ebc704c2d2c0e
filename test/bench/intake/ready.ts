import { spawnSync } from 'node:child_process';
import type { RootEvent } from '../../../src/core/root-port.ts';
import { type Figure, median } from '../figure.ts';
import { whenTrue } from './daemon.ts';
import type { Ground } from './ground.ts';
import { familyOf, watchesOf } from './processes.ts';
import { pidOf, startRoot } from './root.ts';
import { fileCount, folderCount, hundredThousand as shape } from './tree.ts';

const ROUNDS = 5;
const DAEMON_ROUNDS = 3;
const MOST = 4;
const find = "find -printf '%s %T@ %p'";

/**
 * From the start of a root's process until every folder is read and watched, beside `find` on the same tree. The whole
 * daemon, from its start until it has taken the first sweep, beside the same.
 */
export async function measureReady(ground: Ground): Promise<Figure[]> {
  const volume = ground.tree(shape);
  const folders = folderCount(shape);
  listAll(volume); // both sides find the tree in the page cache
  const rows: { root: number; find: number }[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    rows.push({ find: listAll(volume), root: await readAndWatch(volume, folders) });
  }
  const peer = { name: find, value: median(rows.map((row) => row.find)) };
  const seconds = median(rows.map((row) => row.root));
  await ground.prepare(shape);
  const known: number[] = [];
  const unknown: number[] = [];
  for (let round = 0; round < DAEMON_ROUNDS; round++) {
    known.push(await untilSwept(await ground.knowing(shape)));
    unknown.push(await untilSwept(await ground.fresh([volume])));
  }
  const about = { unit: 's', peer, goal: null, holds: null };
  return [
    {
      ...about,
      name: `ready: ${fileCount(shape)} files in ${folders} folders read and watched`,
      value: seconds,
      goal: `<= ${MOST} x`,
      holds: seconds <= MOST * peer.value,
    },
    { ...about, name: 'ready: the whole daemon, tree known, first sweep taken', value: median(known) },
    { ...about, name: 'ready: the whole daemon, tree not known, first sweep taken', value: median(unknown) },
  ];
}

function listAll(volume: string): number {
  const began = performance.now();
  const done = spawnSync('find', [volume, '-printf', '%s %T@ %p\n'], { stdio: ['ignore', 'ignore', 'inherit'] });
  if (done.status !== 0) throw new Error('find failed');
  return (performance.now() - began) / 1000;
}

async function readAndWatch(volume: string, folders: number): Promise<number> {
  const began = performance.now();
  const swept = Promise.withResolvers<Extract<RootEvent, { type: 'swept' }>>();
  const root = startRoot(volume, (event) => {
    if (event.type === 'swept') swept.resolve(event);
  });
  try {
    const found = await swept.promise;
    if (found.files !== fileCount(shape) || found.folders !== folders) {
      throw new Error(`the sweep found ${found.files} files in ${found.folders} folders`);
    }
    await whenTrue('every folder is watched', () => watchesOf(familyOf(pidOf(root))) >= folders);
    return (performance.now() - began) / 1000;
  } finally {
    await root.stop();
  }
}

async function untilSwept(daemon: Awaited<ReturnType<Ground['fresh']>>): Promise<number> {
  await daemon.swept();
  const [swept] = daemon.told('swept');
  const took = (performance.now() - daemon.startedAt) / 1000;
  if (swept?.['files'] !== fileCount(shape)) throw new Error(`the sweep found ${swept?.['files']} files`);
  await daemon.end('SIGKILL');
  return took;
}
