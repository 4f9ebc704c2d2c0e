import { spawn } from 'node:child_process';
import { closeSync, openSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Figure } from '../figure.ts';
import { type Daemon, end, started, whenTrue } from './daemon.ts';
import { checkKnown, type Ground } from './ground.ts';
import { familyOf, memoryOf, peakOf, watchesOf } from './processes.ts';
import { clipCount, fileCount, folderCount, hundredThousand, million, type TreeShape } from './tree.ts';

const REST = 30;
const FIRST_WITHIN = 3;
const MOST_MB = 200;

/** A start on a million known files: when it first shows them, and what it costs above a daemon with an empty volume. */
export async function measureRestart(ground: Ground): Promise<Figure[]> {
  const opened = await opensOnRestart(ground);
  await ground.prepare(million);
  const idle = await ground.idle();
  await idle.swept();
  const daemon = await ground.knowing(million);
  const first = await untilShown(daemon, million);
  await daemon.swept(900);
  const swept = (performance.now() - daemon.startedAt) / 1000;
  await sleep(REST * 1000);
  const above = (measure: (pids: readonly number[]) => number) =>
    (measure(familyOf(daemon.pid)) - measure(familyOf(idle.pid))) / 1e6;
  const [atRest, peak] = [above(memoryOf), above(peakOf)];
  await checkKnown(daemon, million);
  await daemon.end();
  await idle.end();
  ground.remove(million);
  const extra = { peer: null, goal: null, holds: null };
  return [
    {
      name: `restart: ${fileCount(million)} files known, first snapshot that shows them`,
      value: first,
      unit: 's',
      peer: null,
      goal: `<= ${FIRST_WITHIN} s`,
      holds: first <= FIRST_WITHIN,
    },
    {
      name: 'restart: memory of all processes at rest, above an idle daemon',
      value: atRest,
      unit: 'MB',
      peer: null,
      goal: `<= ${MOST_MB} MB`,
      holds: atRest <= MOST_MB,
    },
    { ...extra, name: 'restart: sum of the peaks of all processes, above an idle daemon', value: peak, unit: 'MB' },
    { ...extra, name: 'restart: every folder read again', value: swept, unit: 's' },
    opened,
  ];
}

async function untilShown(daemon: Daemon, shape: TreeShape): Promise<number> {
  await whenTrue(
    'what is known is shown',
    async () => {
      const snapshot = await daemon.snapshot();
      const clips = snapshot?.projects.reduce((sum, project) => sum + project.clips, 0);
      return snapshot?.projects.length === shape.projects && clips === clipCount(shape);
    },
    { seconds: 120 },
  );
  return (performance.now() - daemon.startedAt) / 1000;
}

/** How many files of a known tree are opened by anybody from the start until all is at rest, as inotify tells. */
async function opensOnRestart(ground: Ground): Promise<Figure> {
  const shape = hundredThousand;
  await ground.prepare(shape);
  const file = join(ground.place('opens'), 'told');
  const out = openSync(file, 'w');
  const spy = spawn('inotifywait', ['-q', '-mr', '-e', 'open', '--format', '%e', ground.tree(shape)], {
    stdio: ['ignore', out, 'ignore'],
  });
  closeSync(out);
  const pid = await started(spy);
  try {
    await whenTrue('the tree is watched', () => watchesOf([pid]) >= folderCount(shape));
    const daemon = await ground.knowing(shape);
    await daemon.swept();
    await sleep(REST * 1000);
    await checkKnown(daemon, shape);
    await daemon.end();
  } finally {
    await end(spy, 'SIGKILL');
  }
  const told = readFileSync(file, 'utf8').split('\n');
  // Folders are opened to be read; were none seen, the spy saw nothing at all.
  if (!told.some((line) => line.includes('ISDIR'))) throw new Error('not even a folder was seen to be opened');
  const value = told.filter((line) => line.startsWith('OPEN') && !line.includes('ISDIR')).length;
  const name = `restart: unchanged files of ${fileCount(shape)} that were opened`;
  return { name, value, unit: 'files', peer: null, goal: '0', holds: value === 0 };
}
