import type { CopyStep } from '../../core/backup/copy-failure.ts';
import { hashOf } from './hash.ts';
import type { SharedPace } from './pace.ts';
import { ensureAsListed, lookAt, publish, removeParts } from './publish.ts';
import { readWhole, writeWhole } from './small-calls.ts';
import type { ReadTask } from './small-lane.ts';
import {
  hasHoles,
  isAsListed,
  isSameTime,
  type PublishResult,
  type ReadResult,
  StepError,
  type Task,
  toSetback,
  type WriteResult,
} from './steps.ts';
import { sumsOf } from './sums.ts';

/** Files up to this size go through one piece of memory whole; a larger one is copied piece by piece. */
export const SMALL = 4 * 1_048_576;

/** What a thread copies small files with. */
export interface Hand {
  /** Page-aligned, `SMALL` long. */
  memory: Buffer;
  pace: SharedPace;
}

/** Reads a source, and writes it to its part file. Leaves nothing behind when it fails. Never throws. */
export function writeSmall(task: Task, { memory, pace }: Hand): WriteResult {
  let step: CopyStep = 'read-source';
  let made = false;
  try {
    const { stat } = readWhole(task.source, memory, pace, (found) => {
      if (!isAsListed(task, found)) throw new StepError({ is: 'changed' });
    });
    const content = memory.subarray(0, task.size);
    const [hash, sums] = [hashOf(content), sumsOf(content, task.also)];
    const mode = Number(stat.mode & 0o777n);
    step = 'look';
    const there = lookAt(task.final);
    if (there !== null) {
      if (!there.isFile() || Number(there.size) !== task.size) throw taken();
      const [timeKept, modeKept] = [isSameTime(there.mtimeNs, task.mtimeNs), Number(there.mode & 0o777n) === mode];
      return { is: 'written', hash, sums, found: true, timeKept, modeKept };
    }
    step = 'write-copy';
    made = true;
    const withHoles = hasHoles(stat);
    const kept = writeWhole(task.part, memory, {
      ...{ length: task.size, withHoles, mtime: Number(task.mtimeNs) / 1e9, mode },
    });
    return { is: 'written', hash, sums, found: false, ...kept };
  } catch (error) {
    const setback = toSetback(error, step);
    if (made) tidy(task);
    return setback;
  }
}

/** Reads a part file back and gives it its name, when it is what was written and the source is as it was. Never throws. */
export function publishSmall(task: Task, hash: string, found: boolean, { memory, pace }: Hand): PublishResult {
  let step: CopyStep = 'read-back';
  try {
    const back = readWhole(found ? task.final : task.part, memory, pace, (stat) => {
      if (!stat.isFile() || Number(stat.size) !== task.size) throw otherThan(hash, `${stat.size} bytes`, found);
    });
    const read = hashOf(memory.subarray(0, task.size));
    if (read !== hash) throw otherThan(hash, read, found);
    step = 'read-source';
    ensureAsListed(task);
    step = 'publish';
    if (!found) publish(task);
    return { is: 'published', direct: back.direct };
  } catch (error) {
    const setback = toSetback(error, step);
    if (!found) tidy(task);
    return setback;
  }
}

/** Reads a file again; one that is larger than the memory is refused with a RangeError. Never throws. */
export function readSmall({ path, step, also }: ReadTask, { memory, pace }: Hand): ReadResult {
  try {
    const { stat, direct } = readWhole(path, memory, pace, (found) => {
      if (!found.isFile()) throw new StepError({ is: 'failed', step, code: null, detail: 'it is no regular file' });
      if (found.size > memory.length) throw new StepError({ is: 'changed' });
    });
    const after = lookAt(path);
    if (after === null || after.ctimeNs !== stat.ctimeNs || after.ino !== stat.ino) return { is: 'changed' };
    const bytes = Number(stat.size);
    const content = memory.subarray(0, bytes);
    const sums = sumsOf(content, also);
    return { is: 'read', hash: hashOf(content), sums, bytes, mtimeNs: stat.mtimeNs, direct };
  } catch (error) {
    return toSetback(error, step);
  }
}

/** What was written is to be something else now: where it lay there before, it is simply another file. */
export function otherThan(expected: string, read: string, found: boolean): StepError {
  return found ? taken() : new StepError({ is: 'mismatch', expected, read });
}

export function taken(): StepError {
  return new StepError({ is: 'failed', step: 'publish', code: 'EEXIST', detail: null, reason: 'target-exists' });
}

/** The shelf may be gone or full of errors: what cannot be removed now is in the journal. */
export function tidy(task: Task): void {
  try {
    removeParts(task);
  } catch {
    // Found at the next start.
  }
}
