import type { FileRecord, Instant, Kind, PathText } from '../model.ts';
import type { FileHash, ReadGrade } from './copy-port.ts';
import type { CopiesWanted, ProjectCopies } from './project-copies.ts';
import type { Sums } from './sums.ts';

/** A shelf as it was last seen. */
export interface KnownShelf {
  /** From its marker; stays when it is mounted elsewhere or called something else. */
  id: string;
  /** As the configuration calls it. */
  name: string;
  /** The drive it lies on, by what stays the same over restarts; two shelves on one drive are one copy. `null`: not known. */
  drive: string | null;
  seenAt: Instant;
  totalBytes: number;
  freeBytes: number;
}

/** What was found when a copy was last read. */
export type CopyState =
  | 'good'
  /** Its content is not what was written. */
  | 'differs'
  /** It is not there, or cannot be read. */
  | 'unread';

/** A file on a shelf, and the version of the working volume's file that it is a copy of. */
export interface KeptCopy extends FileHash {
  /** Id of the shelf. */
  shelf: string;
  /** Below the shelf's root. */
  path: PathText;
  volume: string;
  project: string | null;
  kind: Kind;
  source: PathText;
  size: number;
  mtimeNs: bigint;
  grade: ReadGrade;
  copiedAt: Instant;
  readAt: Instant;
}

/** A version of a file of a working volume, and what is in it. */
export type KnownVersion = Pick<KeptCopy, 'volume' | 'source' | 'size' | 'mtimeNs' | 'algorithm' | 'hash' | 'readAt'>;

/** How surely a copy must have come from its medium to count as verified. */
export const VERIFIED_GRADES: readonly ReadGrade[] = ['device', 'cache-dropped'];

/** A file that a shelf has no good copy of. */
export interface BacklogFile {
  file: FileRecord;
  /** How what lies where its copy belongs was found: of an earlier version, or a copy of this one that is not good. `null`: nothing. */
  earlier: { state: CopyState; hash: string; size: number } | null;
}

/** In the order in which they are copied: what cannot be made again comes first. Caches are not copied. */
export const BACKUP_RANKS: readonly (readonly Kind[])[] = [
  ['original', 'sound', 'still', 'sidecar'],
  ['project-file', 'graphics'],
  ['other'],
  ['render', 'proxy'],
];

/** Of what is saved over and over. */
export const PROJECT_FILE_RANK = 1;

export interface BacklogPage {
  files: BacklogFile[];
  /** Asks for what comes after; `null`: that was the last. */
  next: number | null;
}

/** What a shelf lacks of a volume. */
export interface BacklogSum {
  files: number;
  bytes: number;
  /** Of these, footage. */
  footageFiles: number;
  footageBytes: number;
}

/** A copy that is to be read again, or to be brought back. */
export interface ShelfFile extends FileHash {
  path: PathText;
  volume: string;
  source: PathText;
  size: number;
  mtimeNs: bigint;
  state: CopyState;
  grade: ReadGrade;
  copiedAt: Instant;
  readAt: Instant;
}

/** A copy, with all that is known of its content. */
export interface ListableFile extends ShelfFile {
  sums: Sums;
}

/** What was found when a copy was read again. */
export interface CopyRead {
  path: PathText;
  state: CopyState;
  grade: ReadGrade;
  readAt: Instant;
}

/** The copies of a volume on a shelf. */
export interface ShelfSum {
  shelf: string;
  volume: string;
  files: number;
  bytes: number;
  /** Of these bytes, earlier versions and what was copied beside another. */
  earlierBytes: number;
  /** Of these, good and of a grade that counts. */
  verifiedFiles: number;
  verifiedBytes: number;
  differing: number;
  unread: number;
  /** When the copy that was not read for longest was read; and the newest. */
  oldestReadAt: Instant | null;
  newestReadAt: Instant | null;
}

/** The part of the store that knows of copies. What is put is durable when a call resolves. */
export interface BackupStorePort {
  shelves(): Promise<KnownShelf[]>;
  putShelf(shelf: KnownShelf): Promise<void>;
  /** Of one rank, in the order in which the files became known. Files that are arriving are left out. */
  backlog(volume: string, shelf: string, rank: number, after: number | null): Promise<BacklogPage>;
  /** Reads all files of the volume. */
  backlogSum(volume: string, shelf: string): Promise<BacklogSum>;
  putCopies(copies: readonly KeptCopy[]): Promise<void>;
  /** These versions have contents that are known. */
  putVersions(versions: readonly KnownVersion[]): Promise<void>;
  /** A copy was moved aside on its shelf. */
  moveCopy(shelf: string, from: PathText, to: PathText): Promise<void>;
  /** Copies that were last read before an instant, those first that were not read for longest. */
  stalest(shelf: string, before: Instant, most: number): Promise<ShelfFile[]>;
  /** Verified copies of footage, in their first places, that stand in no list on the shelf yet; in order of their paths. */
  unlisted(shelf: string, volume: string, most: number): Promise<ListableFile[]>;
  putListed(shelf: string, paths: readonly PathText[]): Promise<void>;
  /**
   * Camera originals and sound that are not what was copied first, as long as that copy is good and they are there as they are now: paths on
   * the volume.
   */
  altered(shelf: string, volume: string): Promise<PathText[]>;
  /** Copies that were found bad, in order of their paths. */
  badCopies(shelf: string, volume: string, most: number): Promise<ShelfFile[]>;
  /** They are no longer there: somebody took them away. */
  dropCopies(shelf: string, paths: readonly PathText[]): Promise<void>;
  putReads(shelf: string, reads: readonly CopyRead[]): Promise<void>;
  shelfSums(): Promise<ShelfSum[]>;
  /**
   * The copies of every project and every area outside projects that has files here, or copies of what was here; `null` when the ledger was lost.
   * `readSince`: a copy must have been read at this instant or later to be told as `Copied`.
   */
  projectCopies(wanted: CopiesWanted, readSince: Instant): Promise<ProjectCopies[] | null>;
  /**
   * The good copies of a volume (of a project of it) that are all that is left of their files: nothing lies where they were on the volume, nor
   * are they there under other names.
   */
  lostFiles(volume: string, project: string | null, shelf: string): Promise<ShelfFile[]>;
  /** A short text that is kept under a key. */
  backupNote(key: string): Promise<string | null>;
  putBackupNote(key: string, text: string): Promise<void>;
}
