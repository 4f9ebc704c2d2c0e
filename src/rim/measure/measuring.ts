import { spawnSync } from 'node:child_process';
import { randomBytes, randomFillSync } from 'node:crypto';
import * as nodeFs from 'node:fs';
import type { MeasuredStreams, MeasureMethod } from '../../core/assess/speed-sample.ts';
import { passesCacheBy } from '../base/direct-systems.ts';
import { pageMemory } from '../base/page-memory.ts';
import { type MeasureFile, makeMeasureFile } from './measure-file.ts';
import { Noise } from './noise.ts';
import { type PassOptions, readPass, streamsPass, writePass } from './passes.ts';

/** What is asked of a measurement. */
export interface MeasureOrder {
  /** On the volume; the file is made in it. */
  folder: string;
  /** Where a file that has a name is noted. */
  notes: string;
  bytes: number;
  requestBytes: number;
  /** Requests under way at once, of one stream. */
  depth: number;
  /** Streams side by side, each number a pass of its own. */
  streams: number[];
  /** Longest that writing and reading may take; passes of several streams take at most a third of it. */
  seconds: number;
}

export interface MeasureProgress {
  doing: 'writing' | 'reading' | 'streams';
  streams: number;
  bytes: number;
  bps: number;
}

export interface Measured {
  method: MeasureMethod;
  bytes: number;
  writeBps: number;
  readBps: number;
  streams: MeasuredStreams[];
}

/** Measures in this process, which is to be one of its own: whoever calls a hung mount can be neither ended nor exited past. */
export async function measureHere(
  order: MeasureOrder,
  tell: (progress: MeasureProgress) => void,
  made: (file: MeasureFile) => void,
): Promise<Measured> {
  const file = makeMeasureFile(nodeFs, order.folder, order.notes, randomBytes(16).toString('hex'));
  made(file);
  try {
    return await passes(order, file, tell);
  } finally {
    nodeFs.closeSync(file.fd);
    file.remove();
  }
}

async function passes(
  order: MeasureOrder,
  { fd, direct }: MeasureFile,
  tell: (progress: MeasureProgress) => void,
): Promise<Measured> {
  const { requestBytes, depth, seconds } = order;
  const isDrives = direct && passesCacheBy(nodeFs.statfsSync(order.folder).type);
  const options = (doing: MeasureProgress['doing'], streams: number): PassOptions => ({
    ...{ requestBytes, ticks: () => performance.now() },
    ...(doing === 'streams' ? { depth: streams, seconds: seconds / 3 } : { depth, seconds }),
    progress: (bytes, bps) => tell({ doing, streams, bytes, bps }),
  });
  const noise = new Noise(requestBytes, randomFillSync);
  const wrote = await writePass(nodeFs, fd, order.bytes, () => noise.next(), options('writing', 1));
  const memory = pageMemory(requestBytes * Math.max(depth, ...order.streams));
  const cold = () => (direct ? undefined : letGoOfCache(fd));
  cold();
  const read = await readPass(nodeFs, fd, wrote.bytes, memory, options('reading', 1));
  const streams: MeasuredStreams[] = [];
  for (const count of order.streams) {
    cold();
    const { bps, p50Ms, p99Ms } = await streamsPass(nodeFs, fd, wrote.bytes, memory, options('streams', count));
    streams.push({ streams: count, readBps: bps, p50Ms, p99Ms });
  }
  return {
    method: isDrives ? 'direct' : 'dropped',
    bytes: wrote.bytes,
    writeBps: wrote.bps,
    readBps: read.bps,
    streams,
  };
}

/** Asks the kernel to drop the file from its cache: dd(1) does so with `nocache` (posix_fadvise), which Node cannot call. */
function letGoOfCache(fd: number): void {
  spawnSync('dd', ['oflag=nocache', 'conv=notrunc,fdatasync', 'count=0', `of=/proc/${process.pid}/fd/${fd}`], {
    stdio: 'ignore',
    timeout: 60_000,
  });
}
