import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { watch } from 'chokidar';
import { type Figure, median } from '../figure.ts';
import { type Behaviour, behaviours, furtherBehaviours } from './behaviours.ts';
import { type Daemon, whenTrue } from './daemon.ts';
import type { Ground } from './ground.ts';
import { readyTimes, WRITE_FINISH } from './settle.ts';

/** Copies of each behaviour, each with its pauses in another order. */
const COPIES = 3;
/** What was not taken by then is never taken. */
const PATIENCE = 90;

interface Copy {
  behaviour: Behaviour;
  /** Where the file is seen by whoever watches. */
  path: string;
  /** ms since 1970 when the last writer was through. */
  doneAt: number;
}

/**
 * Every copy behaviour for real, all at the same time, watched by the daemon and by chokidar with its write-finish option.
 * Taken before the last writer was through is early.
 */
export async function measureEarly(ground: Ground): Promise<Figure[]> {
  const place = ground.place('early');
  const [local, behind, mount] = ['stripe', 'far', 'shelf-a'].map((name) => join(place, name)) as [
    string,
    string,
    string,
  ];
  for (const folder of [local, behind, mount]) mkdirSync(folder);
  const bytes = { last: makeClip(place, 'last'), first: makeClip(place, 'first') };
  run('bindfs', [behind, mount]);
  // In whatever state it is left: without its files in use it can be unmounted at once.
  ground.defer(() => run('umount', ['-l', mount]));
  const watcher = watch([local, mount], WRITE_FINISH);
  try {
    const peer = new Map<string, number>();
    watcher.on('add', (path) => peer.set(path, Date.now()));
    const daemon = await ground.fresh([local, mount]);
    try {
      await daemon.swept();
      const copies = await writeAll({ local, behind, through: mount }, mount, bytes);
      await whenTrue('all are taken', () => copies.every(({ path }) => readyTimes(daemon).has(path)), {
        seconds: PATIENCE,
        everyMs: 250,
      }).catch(() => {});
      return figures(copies, daemon, peer);
    } finally {
      await daemon.end();
    }
  } finally {
    await watcher.close();
  }
}

type Places = Record<Behaviour['where'], string>;

async function writeAll(places: Places, mount: string, bytes: Record<'last' | 'first', Buffer>): Promise<Copy[]> {
  const writing: Promise<Copy>[] = [];
  for (const behaviour of [...behaviours, ...furtherBehaviours]) {
    const below = join('Saltmarsh', 'Footage', behaviour.name);
    mkdirSync(join(places[behaviour.where], below), { recursive: true });
    for (let copy = 0; copy < COPIES; copy++) {
      const file = join(below, `${behaviour.name}_${copy}.mov`);
      const seenIn = behaviour.where === 'local' ? places.local : mount;
      const turned = [...behaviour.pauses.slice(copy * 3), ...behaviour.pauses.slice(0, copy * 3)];
      const written = behaviour.write(join(places[behaviour.where], file), bytes[behaviour.index], turned);
      writing.push(written.then(() => ({ behaviour, path: join(seenIn, file), doneAt: Date.now() })));
    }
  }
  return Promise.all(writing);
}

function figures(copies: readonly Copy[], daemon: Daemon, peer: ReadonlyMap<string, number>): Figure[] {
  const ready = readyTimes(daemon);
  const nine = copies.filter(({ behaviour }) => behaviours.includes(behaviour));
  const further = copies.filter((copy) => !nine.includes(copy));
  return [
    early(`early: of ${nine.length} copies in nine behaviours, taken too early`, nine, ready, peer),
    ...behaviours.map((one) => early(`early: ${one.name}, ${one.what}`, of(one, nine), ready, peer)),
    never(nine, ready, peer),
    afterwards('early: local, done -> taken, median', nine, 'local', ready),
    afterwards('early: behind a FUSE mount, done -> taken, median', nine, 'behind', ready),
    ...furtherBehaviours.map((one) => early(`early: ${one.name}, ${one.what}`, of(one, further), ready, peer)),
  ];
}

function of(behaviour: Behaviour, copies: readonly Copy[]): Copy[] {
  return copies.filter((copy) => copy.behaviour === behaviour);
}

type Times = ReadonlyMap<string, number>;

function early(name: string, copies: readonly Copy[], ready: Times, peer: Times): Figure {
  const count = (times: Times) => copies.filter(({ path, doneAt }) => (times.get(path) ?? doneAt) < doneAt).length;
  return {
    name,
    value: count(ready),
    unit: `of ${copies.length} copies`,
    peer: { name: 'write-finish at 2 s', value: count(peer) },
    goal: '0',
    holds: count(ready) === 0,
  };
}

function never(copies: readonly Copy[], ready: Times, peer: Times): Figure {
  const count = (times: Times) => copies.filter(({ path }) => !times.has(path)).length;
  const which = new Set(copies.filter(({ path }) => !ready.has(path)).map(({ behaviour }) => behaviour.name));
  return {
    name: `early: not taken within ${PATIENCE} s${which.size === 0 ? '' : ` (${[...which].join(', ')})`}`,
    value: count(ready),
    unit: `of ${copies.length} copies`,
    peer: { name: 'write-finish at 2 s', value: count(peer) },
    goal: '0',
    holds: count(ready) === 0,
  };
}

function afterwards(name: string, copies: readonly Copy[], where: Behaviour['where'], ready: Times): Figure {
  const waits = copies
    .filter((copy) => copy.behaviour.where === where)
    .map(({ path, doneAt }) => ((ready.get(path) ?? Number.POSITIVE_INFINITY) - doneAt) / 1000);
  return { name, value: median(waits), unit: 's', peer: null, goal: null, holds: null };
}

/** About 12 MB of real picture, with its index behind it or before it. */
function makeClip(place: string, index: 'last' | 'first'): Buffer {
  const path = join(place, `${index}.mov`);
  const source = [
    '-f',
    'lavfi',
    '-i',
    'testsrc2=size=1280x720:rate=25',
    '-t',
    '3',
    '-c:v',
    'prores',
    '-profile:v',
    '2',
  ];
  run('ffmpeg', ['-v', 'error', ...source, ...(index === 'first' ? ['-movflags', 'faststart'] : []), path]);
  return readFileSync(path);
}

function run(command: string, args: string[]): void {
  const done = spawnSync(command, args, { stdio: ['ignore', 'ignore', 'inherit'] });
  if (done.status !== 0) throw new Error(`${command} failed`);
}
