import { spawnSync } from 'node:child_process';
import { mkdirSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Figure } from '../figure.ts';
import { type Daemon, end, whenTrue } from './daemon.ts';
import type { Ground } from './ground.ts';
import { loadOf, ofACore, runBeside, SETTLED_AFTER } from './load.ts';
import { cpuOf, familyOf } from './processes.ts';
import { FRAMES_PER_FOLDER, runProgram } from './tree.ts';

const SECONDS = 60;
const RATE = 24;

/**
 * 24 frames land every second in a folder that holds 12,000. Real frames, which the reader can read. What it costs to take
 * the longer sequence when no more come is told apart: it happens once.
 */
export async function measureFrames(ground: Ground): Promise<Figure[]> {
  const volume = join(ground.place('frames'), 'stripe');
  const folder = join(volume, 'Saltmarsh', 'Footage', 'reel-01');
  mkdirSync(folder, { recursive: true });
  const frame = join(ground.place('frame'), 'frame.dpx');
  makeFrame(frame);
  runProgram('write-frames.ts', frame, folder, '0', String(FRAMES_PER_FOLDER), '0');
  const daemon = await ground.fresh([volume]);
  try {
    await daemon.swept();
    await whenTrue('the sequence is a clip', () => daemon.told('clip-ready').length === 1, { seconds: 120 });
    await sleep(SETTLED_AFTER * 1000);
    const load = await whileLanding(daemon, frame, folder);
    const before = cpuOf(familyOf(daemon.pid));
    await whenTrue('the longer sequence is a clip', () => daemon.told('clip-ready').length > 1, { seconds: 120 });
    await sleep(2000);
    const value = cpuOf(familyOf(daemon.pid)) - before;
    await checkFrames(daemon, readdirSync(folder).length);
    const name = 'frames: CPU to take the longer sequence afterwards, once';
    return [
      ofACore(`frames: ${RATE} a second into a folder of ${FRAMES_PER_FOLDER}, all processes`, load, 2),
      { name, value, unit: 's', peer: null, goal: null, holds: null },
    ];
  } finally {
    await daemon.end();
  }
}

async function whileLanding(daemon: Daemon, frame: string, folder: string): Promise<number> {
  const writer = await runBeside('write-frames.ts', frame, folder, String(FRAMES_PER_FOLDER), '1000000', String(RATE));
  try {
    await sleep(2000);
    return await loadOf(daemon.pid, SECONDS);
  } finally {
    await end(writer);
  }
}

function makeFrame(path: string): void {
  const source = ['-f', 'lavfi', '-i', 'testsrc2=size=64x36:rate=24', '-frames:v', '1', '-pix_fmt', 'gbrp10be'];
  const done = spawnSync('ffmpeg', ['-v', 'error', ...source, path], { stdio: ['ignore', 'ignore', 'inherit'] });
  if (done.status !== 0) throw new Error('ffmpeg made no frame');
}

/** Nothing was measured if frames were lost on the way: all of them, of one size, are one clip. */
async function checkFrames(daemon: Daemon, frames: number): Promise<void> {
  const snapshot = await daemon.snapshot();
  const [project] = snapshot?.projects ?? [];
  if (project?.clips !== 1 || snapshot?.projects.length !== 1) {
    throw new Error(`${project?.clips} clips are known, not one`);
  }
  if (!Number.isInteger(project.bytes / frames)) {
    throw new Error(`${project.bytes} bytes are known of ${frames} frames of one size`);
  }
}
