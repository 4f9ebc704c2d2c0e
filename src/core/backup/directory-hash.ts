import { baseName, dirName, toUtf8 } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';
import { bytesOfValue } from './mhl-hash-value.ts';
import type { FolderHashes, HashFormat } from './mhl-model.ts';

/** The hash of some bytes as a normal value of one format. */
export type Digest = (bytes: Uint8Array) => string;

export interface HashedTree {
  format: HashFormat;
  /** Every file below the root with its value in `format`. */
  files: Iterable<{ path: PathText; value: string }>;
  /** Every folder below the root; what files lie in need not be named. */
  folders: Iterable<PathText>;
  /** Files and folders that cannot be hashed or listed: what they lie in gets no hash. */
  untold: Iterable<PathText>;
}

interface Folder {
  contents: string[];
  structures: string[];
}

/**
 * The hashes of all folders, the root's at ''. Specification, appendix G: `content` is the hash of what is in a folder's
 * files (their values) and folders (their content values); `structure` of names with values (of folders their structure
 * value). In both the values are sorted as text, and their bytes hashed one after another. An empty folder's is the
 * hash of nothing.
 */
export function directoryHashes(tree: HashedTree, digest: Digest): Map<PathText, FolderHashes> {
  const { format } = tree;
  const folders = new Map<PathText, Folder>();
  openFolder(folders, '');
  for (const path of tree.folders) openFolder(folders, path);
  const told = (folder: Folder, path: PathText, content: string, structure: string) => {
    folder.contents.push(content);
    folder.structures.push(digest(joined([toUtf8(baseName(path)), bytesOfValue(format, structure)])));
  };
  for (const { path, value } of tree.files) told(openFolder(folders, dirName(path)), path, value, value);

  const silent = foldersAbove(tree.untold);
  const hashes = new Map<PathText, FolderHashes>();
  for (const [path, folder] of deepestFirst(folders)) {
    if (silent.has(path)) continue;
    const content = digest(joined(folder.contents.sort().map((value) => bytesOfValue(format, value))));
    const structure = digest(joined(folder.structures.sort().map((value) => bytesOfValue(format, value))));
    hashes.set(path, { content, structure });
    if (path !== '') told(openFolder(folders, dirName(path)), path, content, structure);
  }
  return hashes;
}

/** Opens those that it lies in, too. */
function openFolder(folders: Map<PathText, Folder>, path: PathText): Folder {
  const known = folders.get(path);
  if (known !== undefined) return known;
  const folder = { contents: [], structures: [] };
  folders.set(path, folder);
  for (let above = path; above !== ''; ) {
    above = dirName(above);
    if (folders.has(above)) break;
    folders.set(above, { contents: [], structures: [] });
  }
  return folder;
}

function foldersAbove(paths: Iterable<PathText>): Set<PathText> {
  const above = new Set<PathText>();
  for (const path of paths) {
    for (let folder = path; folder !== ''; ) {
      folder = dirName(folder);
      above.add(folder);
    }
  }
  return above;
}

function deepestFirst(folders: Map<PathText, Folder>): [PathText, Folder][] {
  const depth = (path: PathText) => (path === '' ? 0 : path.split('/').length);
  const levels = [...folders].map((entry) => ({ entry, depth: depth(entry[0]) }));
  return levels.sort((a, b) => b.depth - a.depth).map(({ entry }) => entry);
}

function joined(parts: readonly Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}
