import { closeSync } from 'node:fs';
import { parentPort, workerData } from 'node:worker_threads';
import { type MediaInfo, mediaInfoFactory } from 'mediainfo.js';
import { headerLook } from '../../core/intake/container/look.ts';
import type { Structure } from '../../core/intake/container/structure.ts';
import { baseName } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';
import { answerOf } from './answer.ts';
import { ownNeed } from './own-need.ts';
import type { FromWorker, Job, WorkerSetup } from './protocol.ts';
import {
  adaptiveReader,
  inWords,
  LARGEST_READ,
  type OpenFile,
  openForReading,
  readFully,
  readSome,
  ShortRead,
  statOf,
  whatChanged,
} from './reading.ts';
import { HEAD_BYTES, whyNotMedia } from './signature.ts';

/*
 * One worker: one instance of the library, one job at a time. The library is synchronous wasm and can freeze on a single
 * wrong byte, so nothing in here can watch over it: the pool does, from outside.
 */

const MOST_TRACKS = 128;
const TOO_MANY = `the media reader is not asked about a file of ${MOST_TRACKS} tracks or more`;

type Failure = Extract<ProbeOutcome, { ok: false }>['reason'];

const setup: WorkerSetup = workerData;
const signs = new Int32Array(setup.signs);

/** One for all jobs: a new one for each would be garbage faster than it is collected. */
const block = Buffer.allocUnsafe(LARGEST_READ);

let memoryRefused = false;
/** Memory beyond the limit that the file under way may have. Asked for only when it comes to that. */
let beyondLimit: () => number = () => 0;
capMemory(setup.heapLimit);
const library = await mediaInfoFactory({ format: 'JSON', chunkSize: LARGEST_READ });
let broken = false;

/** The library's own guard against a second job lets a third one through, which then gets the answer of the first. */
let last = Promise.resolve();
parentPort?.on('message', (job: Job) => {
  last = last.then(() => serve(job));
});
send({ type: 'ready' });

async function serve(job: Job): Promise<void> {
  const outcome = await probe(job);
  send({ type: 'done', id: job.id, outcome, heapBytes: heapBytes(library), broken });
}

function send(message: FromWorker): void {
  parentPort?.postMessage(message);
}

/** Whatever asks the file system: the signs of life are odd meanwhile. */
function atTheDrive<Result>(ask: () => Result): Result {
  Atomics.add(signs, 0, 1);
  try {
    return ask();
  } finally {
    Atomics.add(signs, 0, 1);
  }
}

async function probe({ id, path, stat }: Job): Promise<ProbeOutcome> {
  let file: OpenFile;
  try {
    file = atTheDrive(() => openForReading(typeof path === 'string' ? path : Buffer.from(path), stat));
  } catch (thrown) {
    return failed('unreadable', inWords(thrown));
  }
  try {
    const changed = whatChanged(stat, file.stat);
    if (changed !== null) return failed('changed-meanwhile', changed);
    const structure = lookAt(file, stat.path);
    if (structure?.tracks.some(({ type }) => type !== 'other')) send({ type: 'structure', id, structure });
    const outcome = tooMany(structure) ? failed('probe-failed', TOO_MANY) : await read(file);
    const changedSince = whatChanged(
      file.stat,
      atTheDrive(() => statOf(file.fd, stat)),
    );
    return changedSince === null ? outcome : failed('changed-meanwhile', changedSince);
  } catch (thrown) {
    return failed('unreadable', inWords(thrown));
  } finally {
    atTheDrive(() => closeSync(file.fd));
  }
}

/** The library keeps all of each track, and has an answer as long as they are many. No camera has so many. */
function tooMany(structure: Structure | null): boolean {
  return structure !== null && structure.tracks.length >= MOST_TRACKS;
}

/**
 * What the container's own structure tells; `null`: it is not read here. What the file system fails with goes through, a fault
 * of our readers does not: then the library is asked alone.
 */
function lookAt({ fd, stat }: OpenFile, path: PathText): Structure | null {
  try {
    const read = (from: number, length: number) => {
      const into = Buffer.allocUnsafe(length);
      atTheDrive(() => readFully(fd, into, length, from));
      return into;
    };
    return headerLook(read, stat.size, baseName(path)).structure;
  } catch (thrown) {
    if (thrown instanceof ShortRead || hasErrno(thrown)) throw thrown;
    return null;
  }
}

async function read({ fd, stat }: OpenFile): Promise<ProbeOutcome> {
  try {
    const head = block.subarray(0, Math.min(HEAD_BYTES, stat.size));
    atTheDrive(() => readFully(fd, head, head.length, 0));
    const why = whyNotMedia(head);
    if (why !== null) return failed('not-media', why);
    memoryRefused = false;
    beyondLimit = once(() => atTheDrive(() => ownNeed((from, length) => readSome(fd, from, length), stat.size)));
    return answerOf(
      await library.analyzeData(stat.size, adaptiveReader(fd, stat.size, { reading: atTheDrive, block })),
      stat,
    );
  } catch (thrown) {
    if (thrown instanceof ShortRead || hasErrno(thrown)) return failed('unreadable', inWords(thrown));
    broken = true;
    const need = `needed more than ${Math.round((setup.heapLimit + beyondLimit()) / 1e6)} MB of memory for it`;
    return failed('probe-failed', `the media reader ${memoryRefused ? need : `gave up on it: ${inWords(thrown)}`}`);
  }
}

function hasErrno(thrown: unknown): boolean {
  return typeof (thrown as NodeJS.ErrnoException).errno === 'number';
}

function failed(reason: Failure, detail: string): ProbeOutcome {
  return { ok: false, reason, detail };
}

function once(ask: () => number): () => number {
  let known: number | null = null;
  return () => {
    known ??= ask();
    return known;
  };
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
 * No file may make the wasm module take more memory than this and what its own index needs: a truncated file of 2 kB has been
 * seen to take 1.5 GB. A refused growth ends the probe of that file. Holds for this thread alone.
 */
function capMemory(limit: number): void {
  const { Memory } = (globalThis as unknown as { WebAssembly: { Memory: { prototype: WasmMemory } } }).WebAssembly;
  const grow = Memory.prototype.grow;
  Memory.prototype.grow = function (this: WasmMemory, pages: number): number {
    const wanted = this.buffer.byteLength + pages * 65_536;
    if (wanted <= limit || wanted <= limit + beyondLimit()) return grow.call(this, pages);
    memoryRefused = true;
    throw new RangeError('the memory limit of the probe is reached');
  };
}
