import type { PathText } from '../model.ts';
import { compileIgnore } from './glob.ts';
import { baseName } from './path-text.ts';
import { systemName } from './system-names.ts';

/** What of a root is looked at at all. */
export interface ScopeSettings {
  /** Folders that are watched; empty: everything. */
  ingest: readonly string[];
  /** Patterns of what is neither counted nor watched. */
  ignore: readonly string[];
}

/**
 * Tells whether a path (of a file or a folder) is left out: a system name, an ignore pattern, or outside the ingest
 * folders and not above one. Trash is looked at, because its bytes count.
 */
export function outOfScope({ ingest, ignore }: ScopeSettings): (path: PathText) => boolean {
  const patterns = ignore.map(compileIgnore);
  return (path) =>
    systemName(baseName(path), path.split('/').length - 1) === 'system' ||
    patterns.some((pattern) => pattern.matches(path)) ||
    !isIngest(ingest, path);
}

function isIngest(ingest: readonly string[], path: PathText): boolean {
  if (ingest.length === 0) return true;
  return ingest.some((folder) => path === folder || path.startsWith(`${folder}/`) || folder.startsWith(`${path}/`));
}
