import { spawnSync } from 'node:child_process';
import { cpSync, lstatSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { toFileStat } from '../../src/rim/base/file-stat.ts';
import { createProber, type Prober } from '../../src/rim/probe/pool.ts';
import { media } from '../process/headroomd.ts';
import { type Figure, median } from './figure.ts';

const rounds = 5;
const copies = 10;

/**
 * The whole probe of a clip as the daemon makes it (worker thread, watchdog, file checked before and after), beside the
 * `mediainfo` tool reading the same files in one process. Rounds of both alternate; medians of CPU and wall time.
 */
export async function benchProbe(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-bench-'));
  const prober = createProber({ now: () => performance.now() });
  try {
    const files = spread(folder);
    await ours(prober, files.slice(0, 20)); // the worker and its library are loaded before anything is measured
    const rows: { ours: Cost; theirs: Cost }[] = [];
    for (let round = 0; round < rounds; round++) rows.push({ ours: await ours(prober, files), theirs: theirs(files) });
    const middle = (side: 'ours' | 'theirs', what: 'cpu' | 'wall') =>
      (median(rows.map((row) => row[side][what])) / files.length) * 1000;
    return [
      figure('full facts, CPU per clip', middle('ours', 'cpu'), middle('theirs', 'cpu'), 1.5),
      figure('full facts, wall time per clip', middle('ours', 'wall'), middle('theirs', 'wall'), 1.5),
    ];
  } finally {
    await prober.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

function spread(folder: string): string[] {
  const names = readdirSync(media, { withFileTypes: true }).filter((entry) => entry.isFile());
  return names.flatMap(({ name }) =>
    Array.from({ length: copies }, (_, copy) => {
      const to = join(folder, `${copy}-${name}`);
      cpSync(join(media, name), to);
      return to;
    }),
  );
}

interface Cost {
  /** Seconds, user and system. */
  cpu: number;
  wall: number;
}

async function ours(prober: Prober, files: readonly string[]): Promise<Cost> {
  const cpu = process.cpuUsage();
  const began = performance.now();
  const outcomes = await Promise.all(
    files.map((file) => prober.probe(file, toFileStat(file, lstatSync(file, { bigint: true })))),
  );
  const used = process.cpuUsage(cpu);
  const failed = outcomes.filter(({ ok }) => !ok).length;
  if (failed > 0) throw new Error(`${failed} of ${files.length} clips could not be probed`);
  return { cpu: (used.user + used.system) / 1e6, wall: (performance.now() - began) / 1000 };
}

function theirs(files: readonly string[]): Cost {
  const began = performance.now();
  const timed = spawnSync(
    'bash',
    ['-c', 'TIMEFORMAT="%U %S"; time mediainfo --Output=JSON "$@" > /dev/null', 'bash', ...files],
    { encoding: 'utf8' },
  );
  const [user, system] = timed.stderr.trim().split(' ').map(Number);
  if (timed.status !== 0 || user === undefined || system === undefined)
    throw new Error(`mediainfo failed: ${timed.stderr}`);
  return { cpu: user + system, wall: (performance.now() - began) / 1000 };
}

function figure(name: string, value: number, peer: number, most: number): Figure {
  return {
    name,
    value,
    unit: 'ms',
    peer: { name: 'mediainfo, all files in one process', value: peer },
    goal: `<= ${most} x`,
    holds: value <= peer * most,
  };
}
