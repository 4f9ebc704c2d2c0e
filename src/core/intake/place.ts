import type { Kind, PathText, Placement } from '../model.ts';
import { compileGlob, compileIgnore, type Glob } from './glob.ts';
import { type KindFolders, kindFolders, kindOf } from './kind.ts';
import { isSharedName } from './shared-names.ts';
import { systemName } from './system-names.ts';

export interface PlaceOptions {
  /** First-level folders that belong to no project, on top of the built-in ones; whole names, without case. */
  shared: readonly string[];
  /** Patterns of what is neither counted nor watched (core/intake/glob.ts). */
  ignore: readonly string[];
  /** Folder names by what is in them; they decide before any other sign. */
  kinds?: Partial<Record<Kind, readonly string[]>>;
  /** Name of the root folder: the project's name when the root is itself the project. */
  rootName: string;
}

/** Tells where a path belongs. Also answers for folders: a folder placed as `system` need not be read or watched. */
export type Placer = (path: PathText) => Placement;

interface Rules {
  /** One pattern per level; empty when the root is itself the project. */
  levels: readonly Glob[];
  shared: ReadonlySet<string>;
  ignore: readonly Glob[];
  kinds: KindFolders;
  rootName: string;
}

/**
 * Prepares the place rules of a root once, for many paths.
 *
 * `rule` is `.` (the root is one project) or one pattern per folder level: `*`, `*` + `/*`, or with literal names
 * (`jobs/*`). A rule `guess` must have been decided before (core/intake/project-rule.ts); it throws a RangeError here.
 */
export function makePlacer(rule: string, options: PlaceOptions): Placer {
  if (rule === '' || rule === 'guess') throw new RangeError(`"${rule}" is no project rule to place files by`);
  const rules: Rules = {
    levels: rule === '.' ? [] : rule.split('/').map(compileGlob),
    shared: new Set(options.shared.map(foldName)),
    ignore: options.ignore.map(compileIgnore),
    kinds: kindFolders(options.kinds ?? {}),
    rootName: options.rootName,
  };
  return (path) => placeBy(rules, path);
}

/** Where one path belongs; see `makePlacer`. */
export function place(path: PathText, rule: string, options: PlaceOptions): Placement {
  return makePlacer(rule, options)(path);
}

function placeBy(rules: Rules, path: PathText): Placement {
  const names = path.split('/');
  const taken = placeBySystem(names) ?? placeByIgnore(rules, path);
  if (taken !== null) return taken;
  const { kinds } = rules;
  if (isShared(rules, names)) return { area: 'shared', project: null, ...kindOf(path, kinds) };
  if (rules.levels.length === 0) return { area: 'project', project: rules.rootName, ...kindOf(path, kinds) };
  const depth = rules.levels.length;
  const inProject = names.length > depth && rules.levels.every((level, at) => level.matches(names[at] ?? ''));
  if (!inProject) return { area: 'unassigned', project: null, ...kindOf(path, kinds) };
  // A project's own name is no evidence of what is in it: a film may be called "Exports".
  const { kind, reason } = kindOf(names.slice(depth).join('/'), kinds);
  return { area: 'project', project: names.slice(0, depth).join('/'), kind, reason };
}

/** The outermost system or trash name decides: what the system keeps inside its trash is trash. */
function placeBySystem(names: readonly string[]): Placement | null {
  for (const [depth, name] of names.entries()) {
    const found = systemName(name, depth);
    if (found === 'system') return { area: 'system', project: null, kind: 'other', reason: `system name ${name}` };
    if (found === 'trash') return { area: 'trash', project: null, kind: 'other', reason: `trash folder ${name}` };
  }
  return null;
}

function placeByIgnore(rules: Rules, path: PathText): Placement | null {
  const pattern = rules.ignore.find((glob) => glob.matches(path));
  if (pattern === undefined) return null;
  return { area: 'system', project: null, kind: 'other', reason: `ignore pattern ${pattern.text}` };
}

/**
 * Whether a path lies in a folder that serves all projects. Hidden folders count as such: they hold what programs keep.
 * When the root is itself a project, its caches and renders are the project's own; only what the configuration names is
 * shared then.
 */
function isShared(rules: Rules, names: readonly string[]): boolean {
  const [first = ''] = names;
  if (names.length < 2) return false;
  if (rules.shared.has(foldName(first))) return true;
  return rules.levels.length > 0 && (first.startsWith('.') || isSharedName(first));
}

function foldName(name: string): string {
  return name.normalize('NFC').toLowerCase();
}
