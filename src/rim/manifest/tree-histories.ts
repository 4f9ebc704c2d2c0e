import type { ChainLink } from '../../core/backup/chain.ts';
import { directoryHashes } from '../../core/backup/directory-hash.ts';
import { HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import {
  type HistoryPart,
  historyName,
  type NextGeneration,
  nextGeneration,
  type Operation,
} from '../../core/backup/mhl-generation.ts';
import { DEFAULT_IGNORE, ignoreMatcher } from '../../core/backup/mhl-ignore.ts';
import type { DateTimeText, FolderHashes, ListReference, NowFile } from '../../core/backup/mhl-model.ts';
import { NestedHistories, pathWithin } from '../../core/backup/mhl-nested.ts';
import { pathForList } from '../../core/backup/mhl-text.ts';
import type { FileVerdict } from '../../core/backup/mhl-verdict.ts';
import { joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { digests } from './digests.ts';
import { type HistoryFailure, type OpenHistory, openHistory, writeGeneration } from './generation-writer.ts';
import { readHistory } from './history-reader.ts';

/** What lies in a tree now; paths are below `top`. */
export interface TreeNow {
  /** Absolute, in plain text. */
  top: string;
  /** Folders below that hold an `ascmhl` of their own. */
  nested: readonly PathText[];
  files: readonly NowFile[];
  folders: readonly { path: PathText; modifiedAt: DateTimeText | null }[];
}

/** `no-name`: the name of the folder cannot stand in a list. `file`: what a failure is about. */
export type HistoryResult =
  | {
      ok: true;
      root: PathText;
      counts: Record<FileVerdict['kind'], number>;
      /** All but the intact ones. In a first generation everything is new: whoever sends this on leaves that out. */
      found: FileVerdict[];
      refused: NextGeneration['refused'];
      /** The generation; `null` when none was to be written, or there was nothing to list. */
      wrote: ChainLink | null;
      repaired: boolean;
    }
  | { ok: false; root: PathText; reason: HistoryFailure['reason'] | 'no-name'; file: PathText; detail: string };

/**
 * Compares every history of a tree with what is there and writes their next generations, those that lie deepest first, so
 * that the ones above can refer to them. Files belong to the closest history. One that cannot be trusted is told and gets no
 * generation; the others do. Synchronous, and 200,000 files take seconds: for a worker or a child process.
 */
export function recordTree(now: TreeNow, operation: Operation): HistoryResult[] {
  const open = (root: PathText) => openHistory(now.top, root, operation.creator.tool);
  return eachHistory(now, operation, open, (history, part) => recordHistory(now.top, history, part, operation));
}

/** The same without writing anything; a first look at a tree that has no history finds that all is new. */
export function checkTree(now: TreeNow, operation: Operation): HistoryResult[] {
  const open = (root: PathText) => {
    const read = readHistory(now.top, root, operation.creator.tool);
    return read.ok ? { ...read, repaired: false } : read;
  };
  return eachHistory(now, operation, open, ({ history, repaired }, part) => {
    const { found, refused } = nextGeneration(history, part, operation);
    return { ok: true, root: part.root, ...counted(found), refused, wrote: null, repaired };
  });
}

function eachHistory(
  now: TreeNow,
  operation: Operation,
  open: (root: PathText) => OpenHistory | HistoryFailure,
  visit: (history: OpenHistory, part: HistoryPart) => HistoryResult,
): HistoryResult[] {
  const nested = new NestedHistories(now.nested);
  const roots = nested.deepestFirst;
  const histories = new Map(roots.map((root) => [root, open(root)]));
  const isIgnored = ignoredIn(nested, histories, operation);
  const files = now.files.filter(({ path }) => !isIgnored(path, false));
  const folders = now.folders.filter(({ path }) => !isIgnored(path, true));
  const hashes = operation.whole ? folderHashes(files, folders, operation) : new Map<PathText, FolderHashes>();
  const filesOf = Map.groupBy(files, ({ path }) => nested.closest(path));
  const foldersOf = Map.groupBy(folders, ({ path }) => nested.closest(path));
  const references = new Map<PathText | null, ListReference[]>();
  return [...histories].map(([root, history]): HistoryResult => {
    if (!history.ok) return { ...history, root };
    const result = visit(history, {
      root,
      files: filesOf.get(root) ?? [],
      folders: foldersOf.get(root) ?? [],
      hashes,
      references: (references.get(root) ?? []).sort((a, b) => (a.path < b.path ? -1 : 1)),
    });
    const above = nested.parent(root);
    if (result.ok && result.wrote !== null && above !== null) {
      const path = pathWithin(above, joinPath(root, joinPath(HISTORY_FOLDER, result.wrote.file)));
      references.set(above, [...(references.get(above) ?? []), { path, c4: result.wrote.c4 }]);
    }
    return result;
  });
}

function recordHistory(top: string, open: OpenHistory, part: HistoryPart, operation: Operation): HistoryResult {
  const { root } = part;
  const name = historyName(top, root);
  if (name === null) {
    const detail = 'No manifest can be called after this folder: its name is no text, or no text that XML can have.';
    return { ok: false, root, reason: 'no-name', file: root, detail };
  }
  const { generation, found, refused } = nextGeneration(open.history, part, operation);
  const told = { root, ...counted(found), refused, repaired: open.repaired };
  if (generation === null) return { ok: true, ...told, wrote: null };
  const written = writeGeneration({ top, root, name, startedAt: operation.startedAt }, open.chain, generation);
  return written.ok ? { ok: true, ...told, wrote: written.link } : { ...written, root };
}

function counted(all: readonly FileVerdict[]): Pick<Extract<HistoryResult, { ok: true }>, 'counts' | 'found'> {
  const counts = { intact: 0, renamed: 0, altered: 0, new: 0, unproved: 0, missing: 0 };
  for (const { kind } of all) counts[kind] += 1;
  return { counts, found: all.filter(({ kind }) => kind !== 'intact') };
}

/** Each history leaves out what its own patterns say, told below its own root. */
function ignoredIn(
  nested: NestedHistories,
  histories: ReadonlyMap<PathText, OpenHistory | HistoryFailure>,
  { ignore }: Operation,
): (path: PathText, isFolder: boolean) => boolean {
  const matchers = new Map(
    [...histories].map(([root, history]) => {
      const own = history.ok ? history.history.ignore : [];
      return [root, ignoreMatcher([...own, ...DEFAULT_IGNORE, ...ignore])];
    }),
  );
  return (path, isFolder) => {
    const root = nested.closest(path);
    return matchers.get(root)?.(pathWithin(root, path), isFolder) ?? false;
  };
}

/** What cannot be listed, or has no value, leaves the folders above it without a hash: nobody could make it again. */
function folderHashes(
  files: readonly NowFile[],
  folders: TreeNow['folders'],
  { folderFormat: format }: Operation,
): Map<PathText, FolderHashes> {
  const hashed: { path: PathText; value: string }[] = [];
  const untold: PathText[] = [];
  for (const { path, values } of files) {
    const value = values[format];
    if (value === undefined || isUnwritable(path)) untold.push(path);
    else hashed.push({ path, value });
  }
  for (const { path } of folders) if (isUnwritable(path)) untold.push(path);
  return directoryHashes({ format, files: hashed, folders: folders.map(({ path }) => path), untold }, digests[format]);
}

function isUnwritable(path: PathText): boolean {
  return 'unwritable' in pathForList(path);
}
