import { spawnSync } from 'node:child_process';
import { median } from '../figure.ts';

export interface Cost {
  /** Seconds, user and system, all threads and children. */
  cpu: number;
  wall: number;
}

/** What a piece of work costs this process. */
export async function costOf(work: () => unknown): Promise<Cost> {
  const cpu = process.cpuUsage();
  const began = performance.now();
  await work();
  const used = process.cpuUsage(cpu);
  return { cpu: (used.user + used.system) / 1e6, wall: (performance.now() - began) / 1000 };
}

/** `mediainfo` reading all files in one process. */
export function mediainfoBatch(files: readonly string[]): Cost {
  return costOfScript('mediainfo --Output=JSON "$@" > /dev/null', files);
}

/** `ffprobe`, which takes one file, for each of them. */
export function ffprobeEach(files: readonly string[]): Cost {
  const one = 'ffprobe -v error -show_format -show_streams -of json "$file"';
  return costOfScript(`for file in "$@"; do ${one} > /dev/null || exit 1; done`, files);
}

function costOfScript(script: string, files: readonly string[]): Cost {
  const began = performance.now();
  const timed = spawnSync('bash', ['-c', `TIMEFORMAT='%U %S'; time { ${script}; }`, 'bash', ...files], {
    encoding: 'utf8',
  });
  const [user, system] = (timed.stderr.trim().split('\n').at(-1) ?? '').split(' ').map(Number);
  if (timed.status !== 0 || user === undefined || system === undefined || Number.isNaN(user + system)) {
    throw new Error(`the other side failed: ${timed.error?.message ?? timed.stderr.trim()}`);
  }
  return { cpu: user + system, wall: (performance.now() - began) / 1000 };
}

/** The middle of the rounds, per clip, in milliseconds. */
export function perClip(rounds: readonly Cost[], what: keyof Cost, clips: number): number {
  return (median(rounds.map((round) => round[what])) / clips) * 1000;
}
