import type { PathText } from '../model.ts';

/**
 * What a media hash list says, as the ASC Media Hash List Specification 1.0 (15 March 2022) and its XSD (hashlist version
 * 2.0) have it. A history is a chain of generations; each is one immutable manifest in a folder `ascmhl`.
 */

export type HashFormat = 'c4' | 'md5' | 'sha1' | 'xxh128' | 'xxh3' | 'xxh64';

/** In the order in which the schema wants their elements. */
export const HASH_FORMATS: readonly HashFormat[] = ['c4', 'md5', 'sha1', 'xxh128', 'xxh3', 'xxh64'];

/** `original`: the first of a file; `verified`, `failed`: set beside an earlier one. */
export type HashAction = 'original' | 'verified' | 'failed';

/** XML Schema dateTime with its zone: see mhl-time.ts. */
export type DateTimeText = string;

/** Values by format: lower-case hex, or a C4 identifier. */
export type HashValues = { readonly [format in HashFormat]?: string };

export interface HashEntry {
  format: HashFormat;
  value: string;
  /** `null` where a list of others says none: such a value proves nothing. */
  action: HashAction | null;
  hashedAt: DateTimeText | null;
}

/** A file as one generation lists it; `path` is relative to the folder that holds `ascmhl`. */
export interface ListedFile {
  path: PathText;
  size: number | null;
  modifiedAt: DateTimeText | null;
  hashes: readonly HashEntry[];
  /** Where it lay before; told once, by the generation that found it renamed. */
  previousPath: PathText | null;
}

/** Hash of the hashes of what lies in a folder (`content`), and of names with them (`structure`). */
export interface FolderHashes {
  content: string;
  structure: string;
}

export interface ListedFolder {
  path: PathText;
  modifiedAt: DateTimeText | null;
  hashes: FolderHashes;
}

/** A manifest of a history further down; `path` is relative to the folder that holds the referring `ascmhl`. */
export interface ListReference {
  path: PathText;
  c4: string;
}

export interface Creator {
  host: string;
  tool: string;
  toolVersion: string;
}

/** `in-place`: where they lie; `transfer`: while they were copied here. */
export type MhlProcess = 'in-place' | 'transfer';

/** Everything that one manifest says. */
export interface Generation {
  createdAt: DateTimeText;
  creator: Creator;
  process: MhlProcess;
  /** Format of the folders' hashes. */
  folderFormat: HashFormat;
  foldersHashedAt: DateTimeText;
  /** `null` where not everything below is listed. */
  root: FolderHashes | null;
  /** gitignore patterns of what is left out; at least one. */
  ignore: readonly string[];
  files: readonly ListedFile[];
  folders: readonly ListedFolder[];
  references: readonly ListReference[];
}

/** What was found of a file now. Values are of the content that is there. */
export interface NowFile {
  path: PathText;
  size: number;
  modifiedAt: DateTimeText | null;
  values: HashValues;
  hashedAt: DateTimeText | null;
  /** Where it lay before, when that is known. */
  previousPath: PathText | null;
}
