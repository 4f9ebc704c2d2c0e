import { spawn } from 'node:child_process';
import { closeSync, mkdirSync, openSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { type Figure, median } from '../figure.ts';
import { end, started, whenTrue } from './daemon.ts';
import type { Ground } from './ground.ts';
import { familyOf, watchesOf } from './processes.ts';
import { pidOf, startRoot } from './root.ts';
import { runProgram } from './tree.ts';

const ROUNDS = 3;
const FOLDERS = 50;
const FILES = 50_000;
/** Seconds that nobody reads events, longer if writing the files takes longer. */
const STALL = 5;
const FOUND_WITHIN = 10;
/** What was not told of by then is lost. */
const PATIENCE = 30;

interface Round {
  lost: number;
  /** From the end of the stall until the last file was told of. */
  seconds: number;
  peerLost: number;
}

/**
 * Fifty folders with a thousand files each come while the root's process, and `inotifywait -mr` beside it, are stopped
 * (SIGSTOP): the kernel's queue runs over, and neither can see a new folder being made. Once with folders that are new,
 * once with folders that both watched before.
 */
export async function measureBurst(ground: Ground): Promise<Figure[]> {
  const figures: Figure[] = [];
  for (const folders of ['new', 'watched'] as const) {
    const rounds: Round[] = [];
    for (let round = 0; round < ROUNDS; round++) rounds.push(await oneRound(ground.place('burst'), folders));
    // The worst round, not the middle one: nothing may be lost in any.
    const lost = Math.max(...rounds.map((round) => round.lost));
    const seconds = median(rounds.map((round) => round.seconds));
    const name = `burst: ${FILES} files in ${FOLDERS} ${folders} folders while stalled`;
    figures.push(
      {
        name: `${name}, lost (worst of ${ROUNDS})`,
        value: lost,
        unit: 'files',
        peer: { name: 'inotifywait -mr', value: median(rounds.map((round) => round.peerLost)) },
        goal: '0',
        holds: lost === 0,
      },
      {
        name: `${name}, all found after the stall`,
        value: seconds,
        unit: 's',
        peer: null,
        goal: `<= ${FOUND_WITHIN} s`,
        holds: lost === 0 && seconds <= FOUND_WITHIN,
      },
    );
  }
  return figures;
}

async function oneRound(place: string, folders: 'new' | 'watched'): Promise<Round> {
  const volume = join(place, 'stripe');
  mkdirSync(volume);
  if (folders === 'watched') runProgram('write-burst.ts', volume, String(FOLDERS), '0');
  const told = new Set<string>();
  let toldAt = 0;
  let swept = false;
  const root = startRoot(volume, (event) => {
    if (event.type === 'swept') swept = true;
    if (event.type !== 'listing' && event.type !== 'files') return;
    const before = told.size;
    for (const { path } of event.files) told.add(path);
    if (told.size > before) toldAt = performance.now();
  });
  const peer = await startPeer(place, volume);
  try {
    const watched = folders === 'watched' ? FOLDERS + 1 : 1;
    const allWatched = () => swept && watchesOf(familyOf(pidOf(root))) >= watched;
    await whenTrue('both watch', () => allWatched() && watchesOf([peer.pid]) >= watched);
    await sleep(3000);
    const stopped = [...familyOf(pidOf(root)), peer.pid];
    for (const pid of stopped) process.kill(pid, 'SIGSTOP');
    const began = performance.now();
    runProgram('write-burst.ts', volume, String(FOLDERS), String(FILES));
    await sleep(Math.max(0, STALL * 1000 - (performance.now() - began)));
    const resumed = performance.now();
    for (const pid of stopped) process.kill(pid, 'SIGCONT');
    await whenTrue('all are told of', () => told.size >= FILES, { seconds: PATIENCE }).catch(() => {});
    // The other side gets the time we had, and some more.
    await sleep(2000);
    return { lost: FILES - told.size, seconds: (toldAt - resumed) / 1000, peerLost: FILES - peer.told() };
  } finally {
    await root.stop();
    await peer.end();
  }
}

/** Asked for new names alone, so that its queue holds as many files as it can. */
async function startPeer(place: string, volume: string) {
  const file = join(place, 'told');
  const out = openSync(file, 'w');
  const child = spawn('inotifywait', ['-q', '-mr', '-e', 'create', '-e', 'moved_to', '--format', '%w%f', volume], {
    stdio: ['ignore', out, 'ignore'],
  });
  closeSync(out);
  return {
    pid: await started(child),
    told: () =>
      new Set(
        readFileSync(file, 'utf8')
          .split('\n')
          .filter((line) => line.endsWith('.bin')),
      ).size,
    end: () => end(child, 'SIGKILL'),
  };
}
