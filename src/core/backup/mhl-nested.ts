import { dirName } from '../intake/path-text.ts';
import type { PathText } from '../model.ts';

/**
 * Histories within a tree: folders that hold an `ascmhl`, the tree's own at ''. Each file belongs to the closest one above
 * it, and the history above refers to its manifests.
 */
export class NestedHistories {
  readonly #roots: ReadonlySet<PathText>;

  /** @param below folders with a history of their own, without the tree's root */
  constructor(below: Iterable<PathText>) {
    this.#roots = new Set(['', ...below]);
  }

  /** Those that lie in others come first: a list can only refer to lists that are there. */
  get deepestFirst(): PathText[] {
    const depth = (path: PathText) => (path === '' ? 0 : path.split('/').length);
    return [...this.#roots].sort((a, b) => depth(b) - depth(a) || (a < b ? -1 : 1));
  }

  /** Root of the history that a file, or a folder's own entry, belongs to. */
  closest(path: PathText): PathText {
    let above = dirName(path);
    while (!this.#roots.has(above)) above = dirName(above);
    return above;
  }

  /** The history that refers to one further down; `null` for the tree's own. */
  parent(root: PathText): PathText | null {
    return root === '' ? null : this.closest(root);
  }
}

/** The path as a history lists it. */
export function pathWithin(root: PathText, path: PathText): PathText {
  return root === '' ? path : path.slice(root.length + 1);
}
