import type { Instant, PathText } from '../model.ts';
import type { CopyFailure } from './copy-failure.ts';
import type { SumFormat, Sums } from './sums.ts';

/** A file of the working volume that is to be on a shelf as well. What is told of it is how it was last seen: a file that is no longer so does not count. */
export interface CopyItem {
  /** Whole, not negative, and unique within a job; part of the name that the copy has until it is verified. */
  id: number;
  /** Below the working volume's root. */
  source: PathText;
  /** Below the shelf's root. Its folders are made where they are missing. */
  target: PathText;
  size: number;
  mtimeNs: bigint;
  ctimeNs: bigint;
  inode: bigint;
  /** Hashes that are wanted besides. */
  also?: readonly SumFormat[];
}

/** What a shelf is known by: when it is not mounted, its path is a folder of the system's drive, where writing goes on succeeding. */
export interface ShelfGuard {
  /** Absolute, plain text. */
  root: string;
  /** A file below the root, and its whole content. */
  marker: PathText;
  content: string;
  /** `st_dev` of the root; `null`: whatever it is when the job begins. In either case it stays so. */
  device: bigint | null;
}

/** How surely what was read came from the medium. */
export type ReadGrade =
  /** Past every cache of this machine; a drive's own memory may still have answered. */
  | 'device'
  /** The file's pages were put out of the cache, and seen to be out, before it was read. */
  | 'cache-dropped'
  /** Past every cache of this machine, from a server, which has caches of its own. */
  | 'server'
  /** A cache may have answered: the file system says that these are the bytes, and no more is known. */
  | 'reported';

export type HashAlgorithm = 'xxh64';

/** A hash of a whole file: lower-case hexadecimal in canonical (big-endian) order, seed 0; 16 digits for XXH64. */
export interface FileHash {
  algorithm: HashAlgorithm;
  hash: string;
}

/** Why there is no copy, for a person: what happened, to which file, and what to do. */
export interface CopyTrouble {
  reason: CopyFailure;
  /** Below the root that it concerns, the shelf's or the working volume's; as it is, not made safe to show. */
  path: PathText;
  message: string;
  advice: string;
  /** The system's code, where there is one. */
  code: string | null;
}

/** How one file came out. All outcomes of a batch are told once what they say is durable on the shelf. */
export type CopyOutcome = { id: number } & (
  | ({
      is: 'copied';
      grade: ReadGrade;
      bytes: number;
      verifiedAt: Instant;
      /** Whether it lay there already, whole, from an earlier job: then it was read and compared, not written. */
      found: boolean;
      /** Its time of modification is the source's, but for less than a microsecond. */
      timeKept: boolean;
      modeKept: boolean;
      /** Those that were wanted besides. */
      sums: Sums;
    } & FileHash)
  /** The source is not as it was listed, or changed meanwhile. Nothing is on the shelf. */
  | { is: 'changed' }
  /** What was read back is not what was written. Nothing is on the shelf under the target's name. */
  | { is: 'mismatch'; expected: string; read: string; trouble: CopyTrouble }
  | { is: 'failed'; trouble: CopyTrouble }
);

/** A file to be read again. */
export interface ReadItem {
  id: number;
  path: PathText;
  /** As it was last seen; decides only what goes into one batch. */
  size: number;
  /** The hash it must have; `null`: none is known yet. */
  expected: string | null;
  /** Formats in which its hash is wanted besides. */
  also?: readonly SumFormat[];
}

export type ReadOutcome = { id: number } & (
  | ({
      is: 'read';
      grade: ReadGrade;
      bytes: number;
      mtimeNs: bigint;
      readAt: Instant;
      matches: boolean | null;
      /** In the formats that were wanted besides. */
      sums?: Sums;
    } & FileHash)
  /** It changed while it was read. */
  | { is: 'changed' }
  | { is: 'failed'; trouble: CopyTrouble }
);

/** How fast a job may go. Holds within one request, of at most 4 MiB. */
export interface Pace {
  paused: boolean;
  /** Most bytes a second that are read, of sources and when reading back; `null`: as it comes. */
  ceilingBps: number | null;
}

/** What a job is at. Bytes and files of the whole job so far. */
export interface CopyProgress {
  doing: 'writing' | 'flushing' | 'reading-back' | 'paused';
  writtenBytes: number;
  readBackBytes: number;
  settledFiles: number;
}

export interface CopyHooks<Outcome> {
  /** Of one batch, durable on the shelf. The batch after the next one waits for a promise that is returned. */
  settled(outcomes: Outcome[]): void | Promise<void>;
  /** About four times a second while something moves. */
  progress?(progress: CopyProgress): void;
}

/** How a job ended. What of it has no outcome yet was not touched, or nothing is left of it. */
export type CopyEnd =
  | { ended: 'done' }
  /** The signal said so. */
  | { ended: 'stopped' }
  /** It could not go on: the shelf went, the process died, or nothing answered. */
  | { ended: 'broken'; trouble: CopyTrouble };

/** A job that is under way. */
export interface CopyRun {
  pace(to: Pace): void;
  /** Never rejects, but with what a hook threw. */
  readonly end: Promise<CopyEnd>;
}

export interface CopyJob {
  /** Root of the working volume, absolute, plain text. */
  volume: string;
  shelf: ShelfGuard;
  pace: Pace;
}

export interface ReadJob {
  /** Where the files are: a shelf, or a working volume. */
  place: { shelf: ShelfGuard } | { volume: string };
  pace: Pace;
}

type Some<T> = Iterable<T> | AsyncIterable<T>;

/** Copies that are read back from their medium. Each job has a process of its own; sources are only read. */
export interface CopyPort {
  /** Nothing that is on the shelf is ever overwritten. */
  copy(job: CopyJob, items: Some<CopyItem>, hooks: CopyHooks<CopyOutcome>, signal: AbortSignal): CopyRun;
  /** Reads again what is there. Writes nothing. */
  readBack(job: ReadJob, items: Some<ReadItem>, hooks: CopyHooks<ReadOutcome>, signal: AbortSignal): CopyRun;
}
