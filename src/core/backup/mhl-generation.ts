import { baseName } from '../intake/path-text.ts';
import type { Instant, PathText } from '../model.ts';
import type { MhlHistory } from './mhl-history.ts';
import { DEFAULT_IGNORE, grownIgnore } from './mhl-ignore.ts';
import type {
  Creator,
  DateTimeText,
  FolderHashes,
  Generation,
  HashFormat,
  ListReference,
  MhlProcess,
  NowFile,
} from './mhl-model.ts';
import { pathWithin } from './mhl-nested.ts';
import { nextEntries, partWritable, type Refused } from './mhl-next.ts';
import { pathForList } from './mhl-text.ts';
import { dateTimeOf } from './mhl-time.ts';
import { compare, type FileVerdict } from './mhl-verdict.ts';

/** What is the same for all histories that one operation writes. */
export interface Operation {
  /** When it began: it names all manifests. */
  startedAt: Instant;
  creator: Creator;
  process: MhlProcess;
  /** Everything below was looked at, and each file hashed. Else nothing is missing, and folders have no hashes. */
  whole: boolean;
  /** Patterns that were left out besides those of the histories and the usual ones. */
  ignore: readonly string[];
  folderFormat: HashFormat;
}

/** What belongs to one history; paths are below the tree's root. */
export interface HistoryPart {
  root: PathText;
  files: readonly NowFile[];
  /** Its folders, and the roots of histories that lie directly in it. */
  folders: readonly { path: PathText; modifiedAt: DateTimeText | null }[];
  /** Of the whole tree. */
  hashes: ReadonlyMap<PathText, FolderHashes>;
  references: readonly ListReference[];
}

export interface NextGeneration {
  /** `null`: there is nothing that it could list. */
  generation: Generation | null;
  found: FileVerdict[];
  refused: Refused[];
}

/** Compares one history with what is there, and makes its next generation of that. Paths in it are below its own root. */
export function nextGeneration(history: MhlHistory, part: HistoryPart, operation: Operation): NextGeneration {
  const ignore = grownIgnore(grownIgnore(history.ignore, DEFAULT_IGNORE), operation.ignore);
  const now = part.files.map((file) => within(part.root, file));
  const writable = partWritable(now);
  const found = compare(history, writable.files, { whole: operation.whole, ignore });
  const known = unlisted(history, writable.refused);
  const entries = nextEntries(found);
  const { startedAt, creator, process, folderFormat } = operation;
  const root = part.hashes.get(part.root) ?? null;
  const folders = part.folders.flatMap(({ path, modifiedAt }) => {
    const hashes = part.hashes.get(path);
    const short = pathWithin(part.root, path);
    return hashes === undefined || 'unwritable' in pathForList(short) ? [] : [{ path: short, modifiedAt, hashes }];
  });
  const createdAt = dateTimeOf(startedAt);
  const lists = { files: entries.files, folders, references: part.references };
  const isEmpty = Object.values(lists).every((list) => list.length === 0);
  return {
    generation: isEmpty
      ? null
      : { createdAt, creator, process, folderFormat, foldersHashedAt: createdAt, root, ignore, ...lists },
    found: found.filter((one) => one.kind !== 'missing' || !known.has(one.path)),
    refused: [...writable.refused, ...entries.refused],
  };
}

/** A file that is there and could not be listed this time is not missing. */
function unlisted(history: MhlHistory, refused: readonly Refused[]): Set<PathText> {
  return new Set(refused.map(({ path }) => path).filter((path) => history.files.has(path)));
}

function within(root: PathText, file: NowFile): NowFile {
  if (root === '') return file;
  const { previousPath } = file;
  // What came from outside this history is new to it.
  const isInside = previousPath?.startsWith(`${root}/`) === true;
  return {
    ...file,
    path: pathWithin(root, file.path),
    previousPath: isInside && previousPath !== null ? pathWithin(root, previousPath) : null,
  };
}

/** Name of the folder that a history lies in; `null` where no manifest can be called after it. */
export function historyName(top: string, root: PathText): string | null {
  const name = baseName(root === '' ? top.replace(/\/+$/, '') : root);
  if (name === '') return '';
  const fit = pathForList(name);
  return 'unwritable' in fit ? null : fit.text;
}
