import type { CopyStep } from '../../core/backup/copy-failure.ts';
import { pageMemory } from '../base/page-memory.ts';
import { stretchesOf } from './direct.ts';
import { RunningHash } from './hash.ts';
import { isDone, type OpenFile, openForReading, openNew, readAll, SourceError, writeAll } from './open-file.ts';
import { LARGEST_REQUEST, type SharedPace } from './pace.ts';
import { ensureAsListed, lookAt, publish } from './publish.ts';
import type { PublishTask, ReadTask } from './small-lane.ts';
import { otherThan, taken, tidy } from './small-steps.ts';
import {
  hasHoles,
  isAsListed,
  isSameTime,
  type PublishResult,
  type ReadResult,
  type Task,
  toSetback,
  type WriteResult,
} from './steps.ts';
import { RunningSums } from './sums.ts';

/** Files under way at once: while one is opened or closed the drive has the other. */
const FILES = 2;
/** Requests of one file under way at once: one is read while another is hashed and a third written. */
const DEPTH = 4;

/** Copies large files piece by piece, several requests of each under way, over memory that is made once. */
export class LargeLane {
  readonly #pace: SharedPace;
  readonly #memories: Buffer[] = [];

  constructor(pace: SharedPace) {
    this.#pace = pace;
  }

  write(tasks: readonly Task[], told: (index: number, result: WriteResult) => void): Promise<void> {
    return this.#each(tasks, async (task, memory) => told(task.index, await this.#write(task, memory)));
  }

  publish(tasks: readonly PublishTask[], told: (index: number, result: PublishResult) => void): Promise<void> {
    return this.#each(tasks, async (one, memory) => told(one.task.index, await this.#publish(one, memory)));
  }

  read(tasks: readonly ReadTask[], told: (index: number, result: ReadResult) => void): Promise<void> {
    return this.#each(tasks, async (one, memory) => told(one.index, await this.#read(one, memory)));
  }

  async #each<T>(tasks: readonly T[], run: (task: T, memory: Buffer) => Promise<void>): Promise<void> {
    const waiting = tasks.values();
    const serve = async (_: unknown, place: number): Promise<void> => {
      this.#memories[place] ??= pageMemory(DEPTH * LARGEST_REQUEST);
      for (const task of waiting) await run(task, this.#memories[place]);
    };
    await Promise.all(Array.from({ length: Math.min(FILES, tasks.length) }, serve));
  }

  async #write(task: Task, memory: Buffer): Promise<WriteResult> {
    let step: CopyStep = 'read-source';
    let made = false;
    try {
      await using source = await openForReading(task.source);
      const stat = await source.file.stat({ bigint: true });
      if (!isAsListed(task, stat)) return { is: 'changed' };
      const mode = Number(stat.mode & 0o777n);
      const sums = await RunningSums.of(task.also);
      const there = lookAt(task.final);
      if (there !== null) {
        if (!there.isFile() || Number(there.size) !== task.size) throw taken();
        const hash = await this.#hash(source, task.size, memory, undefined, sums);
        const [timeKept, modeKept] = [isSameTime(there.mtimeNs, task.mtimeNs), Number(there.mode & 0o777n) === mode];
        return { is: 'written', hash, sums: sums.digest(), found: true, timeKept, modeKept };
      }
      made = true;
      step = 'write-copy';
      await using target = await openNew(task.part);
      const take = async (piece: Buffer, length: number, at: number): Promise<void> => {
        for (const { from, to } of stretchesOf(piece, length, hasHoles(stat)))
          await writeAll(target, piece.subarray(from, to), at + from);
      };
      const hash = await this.#hash(source, task.size, memory, take, sums);
      await target.file.truncate(task.size);
      const mtime = Number(task.mtimeNs) / 1e9;
      const timeKept = await isDone(target.file.utimes(mtime, mtime));
      const modeKept = await isDone(target.file.chmod(mode));
      return { is: 'written', hash, sums: sums.digest(), found: false, timeKept, modeKept };
    } catch (error) {
      const setback = toSetback(error, error instanceof SourceError ? 'read-source' : step);
      if (made) tidy(task);
      return setback;
    }
  }

  async #publish({ task, hash, found }: PublishTask, memory: Buffer): Promise<PublishResult> {
    let step: CopyStep = 'read-back';
    try {
      await using back = await openForReading(found ? task.final : task.part);
      const { size } = await back.file.stat({ bigint: true });
      if (Number(size) !== task.size) throw otherThan(hash, `${size} bytes`, found);
      const read = await this.#hash(back, task.size, memory);
      if (read !== hash) throw otherThan(hash, read, found);
      step = 'read-source';
      ensureAsListed(task);
      step = 'publish';
      if (!found) publish(task);
      return { is: 'published', direct: back.direct };
    } catch (error) {
      const setback = toSetback(error instanceof SourceError ? error.cause : error, step);
      if (!found) tidy(task);
      return setback;
    }
  }

  async #read({ path, step, also }: ReadTask, memory: Buffer): Promise<ReadResult> {
    try {
      await using file = await openForReading(path);
      const stat = await file.file.stat({ bigint: true });
      if (!stat.isFile()) return { is: 'failed', step, code: null, detail: 'it is no regular file' };
      const bytes = Number(stat.size);
      const sums = await RunningSums.of(also);
      const hash = await this.#hash(file, bytes, memory, undefined, sums);
      const after = lookAt(path);
      if (after === null || after.ctimeNs !== stat.ctimeNs || after.ino !== stat.ino) return { is: 'changed' };
      return { is: 'read', hash, sums: sums.digest(), bytes, mtimeNs: stat.mtimeNs, direct: file.direct };
    } catch (error) {
      return toSetback(error instanceof SourceError ? error.cause : error, step);
    }
  }

  /** Reads a file, hashes its pieces in order, and hands each to `take` before its memory is used again. */
  async #hash(
    file: OpenFile,
    size: number,
    memory: Buffer,
    take: (piece: Buffer, length: number, at: number) => Promise<void> = async () => {},
    sums: RunningSums | null = null,
  ): Promise<string> {
    const hash = new RunningHash();
    let next = 0;
    let before = Promise.resolve();
    const serve = async (_: unknown, place: number): Promise<void> => {
      const piece = memory.subarray(place * LARGEST_REQUEST, (place + 1) * LARGEST_REQUEST);
      while (next < size) {
        const at = next;
        const length = Math.min(this.#pace.requestBytes(), size - at);
        next += length;
        const turn = before;
        const { promise, resolve } = Promise.withResolvers<void>();
        before = promise;
        try {
          await this.#pace.wait(length);
          await readAll(file, piece, length, at);
          await turn;
          hash.update(piece.subarray(0, length));
          sums?.update(piece.subarray(0, length));
          resolve();
          await take(piece, length, at);
        } catch (error) {
          next = size;
          resolve();
          throw error;
        }
      }
    };
    await allOrFirstError(Array.from({ length: DEPTH }, serve));
    return hash.digest();
  }
}

/** All have ended when this ends: none may write to a file that is closed, or use memory of the next one. */
async function allOrFirstError(running: Promise<void>[]): Promise<void> {
  const failed = (await Promise.allSettled(running)).find((one) => one.status === 'rejected');
  if (failed !== undefined) throw failed.reason;
}
