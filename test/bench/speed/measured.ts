import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { measureVolume } from '../../../src/daemon/compose-measure.ts';
import type { Measured } from '../../../src/rim/measure/measuring.ts';
import { type Figure, median } from '../figure.ts';
import { holdDrive } from './held-drive.ts';
import { memoryDrive } from './memory-drive.ts';

/** An odd number, so that the middle is one of them; sides take turns, and which begins changes with every round. */
const ROUNDS = 5;
/** Some seconds of it: what a held drive was not asked for before, it gives at once in the beginning. */
const HELD_BYTES = 1024 * 1_048_576;
const FAST_BYTES = 4096 * 1_048_576;
const STREAMS = 4;
const DEPTH = 4;
const WITHIN = 0.05;
/** The machine's drive is held to this; what it gives bare differs by half from one minute to the next where others share it. */
const HELD_BPS = 300_000_000;
/** As fast as one NVMe drive, and as one on a link of PCI Express 3.0 x4 or three to four of the slower striped. */
const FAST_BPS = [1_000_000_000, 3_000_000_000];
const MEMORY_BYTES = 6_000_000_000;

interface Rates {
  writeBps: number;
  readBps: number;
  streamsBps: number;
}

/**
 * What we measure of a drive, beside fio(1) with the same pattern: requests of 1 MiB past the page cache, four at once over one file,
 * and four streams of one request each; the same sizes, taking turns. Of the drive below the temporary folder, bare and held to a
 * known speed, and of one in memory that is held to speeds of fast drives.
 */
export async function measureMeasured(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-measured-'));
  const { folder: fast, remove } = memoryDrive(MEMORY_BYTES);
  try {
    const figures = [];
    for (const bps of FAST_BPS) figures.push(...(await heldSides(fast, 'drive in memory', bps, FAST_BYTES)));
    figures.push(
      ...(await heldSides(folder, 'drive', HELD_BPS, HELD_BYTES)),
      ...(await bothSides(folder, 'bare drive', HELD_BYTES)),
    );
    return figures;
  } finally {
    remove();
    rmSync(folder, { recursive: true, force: true });
  }
}

async function heldSides(folder: string, drive: string, bps: number, bytes: number): Promise<Figure[]> {
  const letGo = holdDrive(folder, bps);
  try {
    return await bothSides(folder, `${drive} held to ${bps / 1e6} MB/s`, bytes);
  } finally {
    letGo();
  }
}

async function bothSides(folder: string, drive: string, bytes: number): Promise<Figure[]> {
  const ours: Rates[] = [];
  const theirs: Rates[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    const sides = [
      async () => void ours.push(await measureOurs(folder, bytes)),
      async () => void theirs.push(measureFio(folder, bytes)),
    ];
    for (const side of round % 2 === 0 ? sides : sides.toReversed()) await side();
  }
  return [
    figureOf(`${drive}, measured write`, ours, theirs, 'writeBps'),
    figureOf(`${drive}, measured read`, ours, theirs, 'readBps'),
    figureOf(`${drive}, measured read of ${STREAMS} streams`, ours, theirs, 'streamsBps'),
  ];
}

async function measureOurs(folder: string, bytes: number): Promise<Rates> {
  const order = {
    folder,
    notes: folder,
    bytes,
    requestBytes: 1_048_576,
    depth: DEPTH,
    streams: [STREAMS],
    seconds: 60,
  };
  const { writeBps, readBps, streams }: Measured = await measureVolume(order, () => {});
  return { writeBps, readBps, streamsBps: streams[0]?.readBps ?? Number.NaN };
}

function measureFio(folder: string, bytes: number): Rates {
  const file = join(folder, 'fio.bin');
  const all = [
    '--direct=1',
    '--bs=1M',
    `--filename=${file}`,
    '--ioengine=libaio',
    '--group_reporting',
    '--output-format=json',
  ];
  const run = (...args: string[]) => {
    const told = JSON.parse(execFileSync('fio', ['--name=x', ...all, ...args], { encoding: 'utf8' }));
    return told.jobs[0] as Record<'read' | 'write', { bw_bytes: number }>;
  };
  const whole = [`--size=${bytes}`, `--iodepth=${DEPTH}`];
  const write = run('--rw=write', '--end_fsync=1', '--fallocate=none', ...whole).write.bw_bytes;
  const read = run('--rw=read', ...whole).read.bw_bytes;
  const part = bytes / STREAMS;
  const several = [`--numjobs=${STREAMS}`, `--size=${part}`, `--offset_increment=${part}`, '--iodepth=1', '--thread'];
  const streams = run('--rw=read', ...several).read.bw_bytes;
  rmSync(file);
  return { writeBps: write, readBps: read, streamsBps: streams };
}

/** Where fio itself comes to another figure in every round, nothing can be held to five in a hundred: it is told, and no more. */
function figureOf(what: string, ours: readonly Rates[], theirs: readonly Rates[], key: keyof Rates): Figure {
  const value = median(ours.map((rates) => rates[key])) / 1e6;
  const peer = median(theirs.map((rates) => rates[key])) / 1e6;
  const alone = theirs.map((rates) => rates[key]);
  const isSteady = Math.max(...alone) / Math.min(...alone) <= 1 + WITHIN;
  return {
    name: `${what}, median of ${ROUNDS} rounds (${spreadOf(ours, key)}; fio ${spreadOf(theirs, key)}${isSteady ? '' : ': too unsteady to judge'})`,
    ...{ value, unit: 'MB/s', peer: { name: 'fio, same pattern', value: peer } },
    ...(isSteady
      ? { goal: 'within 5 % of it', holds: Math.abs(value / peer - 1) <= WITHIN }
      : { goal: null, holds: null }),
  };
}

function spreadOf(rates: readonly Rates[], key: keyof Rates): string {
  const all = rates.map((one) => one[key] / 1e6).sort((a, b) => a - b);
  return `${all[0]?.toFixed(0)} to ${all.at(-1)?.toFixed(0)}`;
}
