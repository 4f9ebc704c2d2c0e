import type { Sums } from '../backup/sums.ts';
import type { Instant, PathText } from '../model.ts';

/** A file as a list that came with footage has it; the path begins at the list's folder. */
export interface KnownListed {
  path: PathText;
  size: number | null;
  /** The values that the list vouches for. */
  sums: Sums;
}

/**
 * What a list says of contents: one file of checksums, or a whole history of media hash lists (ASC MHL 2.0), which also
 * tells what became of files since.
 */
export interface KnownList {
  kind: 'history' | 'list';
  files: KnownListed[];
  /** gitignore patterns of what a history leaves out. */
  ignore: string[];
}

/**
 * `gap`: what of it makes no sense; `null`: nothing. `detail`: what is wrong, and where, in words; `unreadable` is what the
 * system refused, `no-list` what only is called one, `unusable` what was read and cannot be relied on.
 */
export type KnownListOutcome =
  | { ok: true; list: KnownList; gap: string | null }
  | { ok: false; reason: 'unreadable' | 'no-list' | 'unusable'; detail: string };

/** Where a list lies: `place` is its file on the volume, or a history's folder `ascmhl`; `base` the folder its paths begin at. */
export interface ListPlace {
  place: PathText;
  base: PathText;
}

/** Lists that lie on volumes, each read in a process of its own. Never rejects. */
export interface ListPort {
  /** `root`: of the volume, absolute. */
  read(root: string, place: ListPlace): Promise<KnownListOutcome>;
}

/** A file on a volume, and what is known of the content of the version that is there. */
export interface ArrivedVersion {
  volume: string;
  path: PathText;
  size: number;
  mtimeNs: bigint;
  isArriving: boolean;
  sums: Sums;
  /** The file was changed in some way after it was read: one that was copied anew with its times looks the same otherwise. */
  changedSince: boolean;
}

/** A version of a file whose content was read. */
export interface ReadVersion {
  volume: string;
  path: PathText;
  size: number;
  mtimeNs: bigint;
  /** XXH64, by which contents are kept, among them. */
  sums: Sums & { readonly xxh64: string };
  readAt: Instant;
}

/** The part of the ledger that knows contents by their hashes. */
export interface SumStorePort {
  /** What lies at these places, in their order; nothing of a place where nothing is known. */
  versionsAt(places: readonly { volume: string; path: PathText }[]): Promise<ArrivedVersion[]>;
  /** In a folder and below; `null`: more than `most`. */
  versionsBelow(volume: string, folder: PathText, most: number): Promise<ArrivedVersion[] | null>;
  /** Durable when it resolves. */
  putRead(versions: readonly ReadVersion[]): Promise<void>;
}
