import type { BigIntStats } from 'node:fs';
import type { CopyFailure, CopyStep } from '../../core/backup/copy-failure.ts';
import type { SumFormat, Sums } from '../../core/backup/sums.ts';

/** What a system call takes: text, or the exact bytes of a name that is no text. */
export type CallPath = string | Uint8Array;

/** One file of a batch, with the paths that its steps use. */
export interface Task {
  /** Place in the batch. */
  index: number;
  source: CallPath;
  /** Where it is until it is verified, and where it is renamed to on its way where there are no hard links; both ours. */
  part: CallPath;
  held: CallPath;
  final: CallPath;
  size: number;
  mtimeNs: bigint;
  ctimeNs: bigint;
  inode: bigint;
  also: readonly SumFormat[];
}

/** Why a file goes no further. */
export type Setback =
  | { is: 'changed' }
  | { is: 'stopped' }
  | { is: 'mismatch'; expected: string; read: string }
  /** `reason`: where the code alone does not tell it. */
  | { is: 'failed'; step: CopyStep; code: string | null; detail: string | null; reason?: CopyFailure };

/** The first half: its bytes are in the part file, or the whole file was found in its place. */
export type Written = {
  is: 'written';
  hash: string;
  sums: Sums;
  found: boolean;
  timeKept: boolean;
  modeKept: boolean;
};

/** The second half: it was read back, and has its name. `direct`: read past the page cache. */
export type Published = { is: 'published'; direct: boolean };

export type ReadBack = { is: 'read'; hash: string; sums: Sums; bytes: number; mtimeNs: bigint; direct: boolean };

export type WriteResult = Written | Setback;
export type PublishResult = Published | Setback;
export type ReadResult = ReadBack | Setback;

/** Thrown inside the steps; `toSetback` makes it a result. */
export class StepError extends Error {
  readonly setback: Setback;
  constructor(setback: Setback) {
    super(setback.is);
    this.setback = setback;
  }
}

/** What a step threw, as a result. */
export function toSetback(thrown: unknown, step: CopyStep): Setback {
  if (thrown instanceof StepError) return thrown.setback;
  const { name, code, message } = thrown as NodeJS.ErrnoException;
  if (name === 'Stopped') return { is: 'stopped' };
  return { is: 'failed', step, code: code ?? null, detail: code ?? message };
}

/** Whether a source is still the file that was listed. */
export function isAsListed(task: Task, stat: BigIntStats): boolean {
  return (
    stat.isFile() &&
    stat.ino === task.inode &&
    Number(stat.size) === task.size &&
    stat.mtimeNs === task.mtimeNs &&
    stat.ctimeNs === task.ctimeNs
  );
}

/** Node sets times as a number of seconds, whose steps are a quarter of a microsecond today. */
const TIME_STEP_NS = 1000n;

export function isSameTime(one: bigint, other: bigint): boolean {
  const apart = one - other;
  return -TIME_STEP_NS < apart && apart < TIME_STEP_NS;
}

/** Whether the file has fewer bytes on its drive than it is long: it has holes, or is compressed. */
export function hasHoles(stat: BigIntStats): boolean {
  return stat.blocks * 512n < stat.size;
}
