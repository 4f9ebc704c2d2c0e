import { type AST, parseTOML } from 'toml-eslint-parser';

/** Where something stands in the file: both 1-based, the column counted in characters (code points). */
export interface Place {
  line: number;
  column: number;
}

/** Settings lie four deep; a hundred leaves room and keeps recursion short. */
const DEEPEST = 100;

interface Node {
  /** Of the value; of a table, its header or brace. */
  at: Place;
  /** Of the key it was written under; `null` for the file and for items of a list. */
  keyAt: Place | null;
}

export interface Leaf extends Node {
  kind: 'leaf';
  /** Dates stay as they are written, in a wrapper, so that no setting takes them for text. */
  value: string | number | boolean | TomlDate;
  /** As it stands in the file. */
  source: string;
}

interface List extends Node {
  kind: 'list';
  items: Tree[];
}

export interface Table extends Node {
  kind: 'table';
  entries: Map<string, Tree>;
}

/** A TOML document with the place of every key and value. */
export type Tree = Leaf | List | Table;

interface Source {
  text: string;
  /** No character takes two units, so that columns need not be counted anew. */
  oneUnitEach: boolean;
}

/** A date or time written without quotes. */
export class TomlDate {
  readonly source: string;

  constructor(source: string) {
    this.source = source;
  }
}

/**
 * Parses TOML 1.1, which takes whatever 1.0 takes. Throws the parser's `ParseError` at the first syntax error, and
 * `RangeError` for a text of more than some 100 000 characters or lists nested in thousands.
 */
export function parseTree(text: string): Table {
  const source = { text, oneUnitEach: !/[\uD800-\uDFFF]/.test(text) };
  const program = parseTOML(text, { tomlVersion: '1.1' });
  const root = emptyTable({ line: 1, column: 1 }, null);
  for (const node of program.body[0].body) {
    if (node.type === 'TOMLKeyValue') addPair(source, root, node);
    else addHeader(source, root, node);
  }
  return root;
}

/** The place of the character at `index` (UTF-16, as JavaScript counts). */
export function placeOf(text: string, index: number): Place {
  const lineStart = text.slice(0, index).lastIndexOf('\n') + 1;
  const line = text.slice(0, lineStart).split('\n').length;
  return { line, column: [...text.slice(lineStart, index)].length + 1 };
}

/** Follows a path of keys and indices as far as the tree goes; `whole` says whether it got to the end. */
export function locate(root: Tree, path: readonly PropertyKey[]): { node: Tree; whole: boolean } {
  let node = root;
  for (const step of path) {
    const next = childOf(node, step);
    if (next === undefined) return { node, whole: false };
    node = next;
  }
  return { node, whole: true };
}

function childOf(node: Tree, step: PropertyKey): Tree | undefined {
  if (node.kind === 'table') return node.entries.get(String(step));
  return node.kind === 'list' && typeof step === 'number' ? node.items[step] : undefined;
}

/**
 * The plain value: null-prototype objects, arrays, scalars. A date becomes a symbol, which no schema takes for anything;
 * what lies deeper than any setting is left out.
 */
export function plainValue(node: Tree, depth = 0): unknown {
  if (depth > DEEPEST) return undefined;
  if (node.kind === 'leaf') return node.value instanceof TomlDate ? Symbol(node.value.source) : node.value;
  if (node.kind === 'list') return node.items.map((item) => plainValue(item, depth + 1));
  const object: Record<string, unknown> = Object.create(null);
  for (const [key, entry] of node.entries) object[key] = plainValue(entry, depth + 1);
  return object;
}

/** `[a.b]` and `[[a.b]]` with what stands below. The parser has already refused whatever is set twice. */
function addHeader(source: Source, root: Table, node: AST.TOMLTable): void {
  const at = placeOfNode(source, node);
  const names = node.key.keys.values();
  let current: Tree = root;
  for (const [index, step] of node.resolvedKey.entries()) {
    if (typeof step === 'number') {
      current = itemOf(current, step, at);
    } else {
      const keyAt = placeOfNode(source, names.next().value ?? node);
      const list = typeof node.resolvedKey[index + 1] === 'number';
      current = entryOf(current, step, () => (list ? { kind: 'list', at, keyAt, items: [] } : emptyTable(at, keyAt)));
    }
  }
  for (const pair of node.body) addPair(source, current, pair);
}

/** `a = 1`, or `a.b = 1`, which makes the table `a` when it is not there yet. */
function addPair(source: Source, table: Tree, node: AST.TOMLKeyValue): void {
  const names = node.key.keys;
  const last = names.at(-1);
  let current = table;
  for (const name of names.slice(0, -1)) {
    const at = placeOfNode(source, name);
    current = entryOf(current, nameOf(name), () => emptyTable(at, at));
  }
  if (last !== undefined && current.kind === 'table') {
    current.entries.set(nameOf(last), readContent(source, node.value, placeOfNode(source, last)));
  }
}

function readContent(source: Source, node: AST.TOMLContentNode, keyAt: Place | null): Tree {
  const at = placeOfNode(source, node);
  if (node.type === 'TOMLArray') {
    return { kind: 'list', at, keyAt, items: node.elements.map((element) => readContent(source, element, null)) };
  }
  if (node.type === 'TOMLInlineTable') {
    const table = emptyTable(at, keyAt);
    for (const pair of node.body) addPair(source, table, pair);
    return table;
  }
  const written = source.text.slice(...node.range);
  const value = node.value instanceof Date ? new TomlDate(written) : node.value;
  return { kind: 'leaf', at, keyAt, value, source: written };
}

function entryOf(parent: Tree, name: string, create: () => Tree): Tree {
  if (parent.kind !== 'table') return parent;
  const known = parent.entries.get(name);
  if (known !== undefined) return known;
  const made = create();
  parent.entries.set(name, made);
  return made;
}

function itemOf(parent: Tree, index: number, at: Place): Tree {
  if (parent.kind !== 'list') return parent;
  const known = parent.items[index];
  if (known !== undefined) return known;
  const made = emptyTable(at, null);
  parent.items[index] = made;
  return made;
}

function emptyTable(at: Place, keyAt: Place | null): Table {
  return { kind: 'table', at, keyAt, entries: new Map() };
}

function nameOf(key: AST.TOMLBare | AST.TOMLQuoted): string {
  return key.type === 'TOMLBare' ? key.name : key.value;
}

/** The parser counts columns from 0 in UTF-16 units; a person counts characters. */
function placeOfNode(source: Source, node: { loc: AST.SourceLocation; range: AST.Range }): Place {
  const { line, column } = node.loc.start;
  if (source.oneUnitEach) return { line, column: column + 1 };
  return { line, column: [...source.text.slice(node.range[0] - column, node.range[0])].length + 1 };
}
