import type * as NodeFs from 'node:fs';
import { quantileOf } from '../../core/assess/speed-sample.ts';

export type PassFs = Pick<typeof NodeFs, 'read' | 'write' | 'fdatasync'>;

/** One pass over the file, or a part of it. */
export interface PassResult {
  bytes: number;
  /** Over the second half of it where that was clearly slower than all of it: then a cache was used up. */
  bps: number;
  p50Ms: number;
  p99Ms: number;
}

export interface PassOptions {
  requestBytes: number;
  /** Requests under way at once. */
  depth: number;
  /** It ends after so long, through or not. */
  seconds: number;
  /** Monotonic, ms. */
  ticks: () => number;
  /** Hears of every so many bytes. */
  progress: (bytes: number, bps: number) => void;
}

/** Below this share of the whole pass's rate its second half counts. */
const CLEARLY_SLOWER = 0.9;
const TOLD_EVERY_MS = 250;

type Request = (index: number) => Promise<void>;

/** Writes `bytes` one after the other, flush included. */
export async function writePass(
  fs: PassFs,
  fd: number,
  bytes: number,
  next: () => Buffer,
  options: PassOptions,
): Promise<PassResult> {
  const request: Request = (index) => transfer(fs.write, fd, next(), index * options.requestBytes);
  const flush = () =>
    new Promise<void>((done, fail) => fs.fdatasync(fd, (error) => (error === null ? done() : fail(error))));
  return pass(Math.floor(bytes / options.requestBytes), request, options, flush);
}

/** Reads `bytes` from the beginning, one after the other. `memory`: `depth` requests long. */
export async function readPass(
  fs: PassFs,
  fd: number,
  bytes: number,
  memory: Buffer,
  options: PassOptions,
): Promise<PassResult> {
  const { requestBytes, depth } = options;
  const request: Request = (index) => {
    const slot = (index % depth) * requestBytes;
    return transfer(fs.read, fd, memory.subarray(slot, slot + requestBytes), index * requestBytes);
  };
  return pass(Math.floor(bytes / requestBytes), request, options);
}

/**
 * Reads with several streams side by side, each through a part of the file of its own and one request after the other, as players read.
 * `memory`: as many requests long as there are streams.
 */
export async function streamsPass(
  fs: PassFs,
  fd: number,
  bytes: number,
  memory: Buffer,
  options: PassOptions,
): Promise<PassResult> {
  const { requestBytes, depth: streams, seconds, ticks, progress } = options;
  const each = Math.floor(bytes / streams / requestBytes);
  const latencies: number[] = [];
  const began = ticks();
  const end = began + seconds * 1000;
  let done = 0;
  let toldAt = Number.NEGATIVE_INFINITY;
  async function play(stream: number): Promise<void> {
    const slot = memory.subarray(stream * requestBytes, (stream + 1) * requestBytes);
    for (let at = 0; ticks() < end && at < each; at++) {
      const asked = ticks();
      await transfer(fs.read, fd, slot, (stream * each + at) * requestBytes);
      latencies.push(ticks() - asked);
      done += requestBytes;
      if (ticks() - toldAt > TOLD_EVERY_MS) {
        toldAt = ticks();
        progress(done, (1000 * done) / (toldAt - began));
      }
    }
  }
  await Promise.all(Array.from({ length: streams }, (_, stream) => play(stream)));
  return resultOf(done, (1000 * done) / (ticks() - began), latencies);
}

async function pass(
  requests: number,
  request: Request,
  { requestBytes, depth, seconds, ticks, progress }: PassOptions,
  finish?: () => Promise<void>,
): Promise<PassResult> {
  const latencies: number[] = [];
  const finished: number[] = [];
  const began = ticks();
  let [next, toldAt] = [0, Number.NEGATIVE_INFINITY];
  async function work(): Promise<void> {
    while (next < requests && ticks() - began < seconds * 1000) {
      const index = next++;
      const asked = ticks();
      await request(index);
      const now = ticks();
      latencies.push(now - asked);
      finished.push(now);
      if (now - toldAt > TOLD_EVERY_MS) {
        toldAt = now;
        progress(finished.length * requestBytes, (1000 * finished.length * requestBytes) / (now - began));
      }
    }
  }
  await Promise.all(Array.from({ length: depth }, work));
  await finish?.();
  return resultOf(finished.length * requestBytes, sustained(began, ticks(), finished, requestBytes), latencies);
}

function sustained(began: number, ended: number, finished: readonly number[], requestBytes: number): number {
  const half = Math.floor(finished.length / 2);
  const rate = (requests: number, from: number) => (1000 * requests * requestBytes) / (ended - from);
  const whole = rate(finished.length, began);
  const second = rate(finished.length - half, finished[half - 1] ?? began);
  return second < CLEARLY_SLOWER * whole ? second : whole;
}

function resultOf(bytes: number, bps: number, latencies: readonly number[]): PassResult {
  return { bytes, bps, p50Ms: quantileOf(latencies, 0.5), p99Ms: quantileOf(latencies, 0.99) };
}

type Transfer = (
  fd: number,
  memory: Buffer,
  offset: number,
  length: number,
  position: number,
  done: (error: NodeJS.ErrnoException | null, bytes: number) => void,
) => void;

/** A request that is cut short tells of a full volume or a file that was cut. */
function transfer(call: unknown, fd: number, memory: Buffer, position: number): Promise<void> {
  return new Promise((resolve, reject) => {
    (call as Transfer)(fd, memory, 0, memory.length, position, (error, bytes) => {
      if (error !== null) reject(error);
      else if (bytes < memory.length) reject(new Error(`only ${bytes} of ${memory.length} bytes at ${position}`));
      else resolve();
    });
  });
}
