import { type Leaf, locate, type Place, type Tree } from './position.ts';

/** A text that stands in the file, with its leaf and its path. */
export interface WrittenText {
  text: string;
  at: Place;
  path: readonly PropertyKey[];
}

/** The scalar at a path, or `null` when there is none. */
export function leafAt(tree: Tree, path: readonly PropertyKey[]): Leaf | null {
  const { node, whole } = locate(tree, path);
  return whole && node.kind === 'leaf' ? node : null;
}

/** The text at a path, or `null` when there is none. */
export function textAt(tree: Tree, path: readonly PropertyKey[]): WrittenText | null {
  const leaf = leafAt(tree, path);
  return typeof leaf?.value === 'string' ? { text: leaf.value, at: leaf.at, path } : null;
}

/** The texts of the list at a path. */
export function textsAt(tree: Tree, path: readonly PropertyKey[]): WrittenText[] {
  return indicesAt(tree, path).flatMap((index) => textAt(tree, [...path, index]) ?? []);
}

/** 0 to length - 1 of the list at a path; nothing when there is no list. */
export function indicesAt(tree: Tree, path: readonly PropertyKey[]): number[] {
  const { node, whole } = locate(tree, path);
  return whole && node.kind === 'list' ? [...node.items.keys()] : [];
}
