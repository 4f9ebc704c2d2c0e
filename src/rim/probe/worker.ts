import { closeSync } from 'node:fs';
import { parentPort, workerData } from 'node:worker_threads';
import { type MediaInfo, mediaInfoFactory } from 'mediainfo.js';
import type { ProbeOutcome } from '../../core/root-port.ts';
import { answerOf } from './answer.ts';
import type { FromWorker, Job, WorkerSetup } from './protocol.ts';
import {
  adaptiveReader,
  inWords,
  type OpenFile,
  openForReading,
  readFully,
  ShortRead,
  statOf,
  whatChanged,
} from './reading.ts';
import { HEAD_BYTES, whyNotMedia } from './signature.ts';

/*
 * One worker: one instance of the library, one job at a time. The library is synchronous wasm and can freeze on a single
 * wrong byte, so nothing in here can watch over it: the pool does, from outside.
 */

type Failure = Extract<ProbeOutcome, { ok: false }>['reason'];

const setup: WorkerSetup = workerData;
const signs = new Int32Array(setup.signs);
const sign = () => void Atomics.add(signs, 0, 1);

let memoryRefused = false;
capMemory(setup.heapLimit);
const library = await mediaInfoFactory({ format: 'JSON', chunkSize: 1_048_576 });
let broken = false;

parentPort?.on('message', async (job: Job) => {
  sign();
  const outcome = await probe(job);
  sign();
  send({ type: 'done', outcome, heapBytes: heapBytes(library), broken });
});
send({ type: 'ready' });

function send(message: FromWorker): void {
  parentPort?.postMessage(message);
}

async function probe({ path, stat }: Job): Promise<ProbeOutcome> {
  let file: OpenFile;
  try {
    file = openForReading(typeof path === 'string' ? path : Buffer.from(path), stat);
  } catch (thrown) {
    return failed('unreadable', inWords(thrown));
  }
  try {
    const changed = whatChanged(stat, file.stat);
    if (changed !== null) return failed('changed-meanwhile', changed);
    const outcome = await read(file);
    const changedSince = whatChanged(file.stat, statOf(file.fd, stat));
    return changedSince === null ? outcome : failed('changed-meanwhile', changedSince);
  } catch (thrown) {
    return failed('unreadable', inWords(thrown));
  } finally {
    closeSync(file.fd);
  }
}

async function read({ fd, stat }: OpenFile): Promise<ProbeOutcome> {
  try {
    const head = Buffer.allocUnsafe(Math.min(HEAD_BYTES, stat.size));
    readFully(fd, head, head.length, 0);
    const why = whyNotMedia(head);
    if (why !== null) return failed('not-media', why);
    return answerOf(await library.analyzeData(stat.size, adaptiveReader(fd, stat.size, sign)), stat);
  } catch (thrown) {
    if (thrown instanceof ShortRead || hasErrno(thrown)) return failed('unreadable', inWords(thrown));
    broken = true;
    const need = `needed more than ${Math.round(setup.heapLimit / 1e6)} MB of memory for it`;
    return failed('probe-failed', `the media reader ${memoryRefused ? need : `gave up on it: ${inWords(thrown)}`}`);
  }
}

function hasErrno(thrown: unknown): boolean {
  return typeof (thrown as NodeJS.ErrnoException).errno === 'number';
}

function failed(reason: Failure, detail: string): ProbeOutcome {
  return { ok: false, reason, detail };
}

/** Size of the wasm memory. The library keeps its module to itself, but not so that it cannot be asked. */
function heapBytes(instance: MediaInfo<'JSON'>): number {
  const { mediainfoModule } = instance as unknown as { mediainfoModule?: { HEAPU8?: Uint8Array } };
  return mediainfoModule?.HEAPU8?.byteLength ?? 0;
}

interface WasmMemory {
  buffer: ArrayBuffer;
  grow(pages: number): number;
}

/**
 * No file may make the wasm module take more memory than this: a truncated file of 2 kB has been seen to take 1.5 GB. A
 * refused growth ends the probe of that file. Holds for this thread alone.
 */
function capMemory(limit: number): void {
  const { Memory } = (globalThis as unknown as { WebAssembly: { Memory: { prototype: WasmMemory } } }).WebAssembly;
  const grow = Memory.prototype.grow;
  Memory.prototype.grow = function (this: WasmMemory, pages: number): number {
    if (this.buffer.byteLength + pages * 65_536 <= limit) return grow.call(this, pages);
    memoryRefused = true;
    throw new RangeError('the memory limit of the probe is reached');
  };
}
