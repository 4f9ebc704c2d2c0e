import { isSharedName } from './shared-names.ts';
import { systemName } from './system-names.ts';

/** A first-level entry of the root, with the names inside it where they are known. */
export interface RootChild {
  name: string;
  isDir: boolean;
  grandChildren?: readonly string[];
}

export interface ProjectGuess {
  /** `.`: the folder itself is one project. `*`: its first-level folders are projects. */
  rule: '.' | '*';
  reason: 'looks-like-one-project' | 'holds-projects' | 'nothing-to-go-by';
  /** Folder names that decided. */
  evidence: string[];
  /** A rule that may fit better, in a sentence; never applied by itself. */
  suggestion: string | null;
}

/** Folders inside a project that hold what was recorded. Common practice, no source. */
const RECORDED = new Set(
  'footage rushes dailies ocf camera cameras cam video videos audio sound sounds recordings media raw originals'.split(
    ' ',
  ),
);

/** Other folders a project is usually divided into. Common practice, no source. */
const WORKING = new Set(
  (
    'exports export renders render deliverables delivery graphics gfx titles music sfx vfx vo voiceover stills photos ' +
    'images proxies proxy project projects edit edits edl assets documents docs scripts script paperwork luts archive'
  ).split(' '),
);

/** Words that say which footage or audio, not what project: "Raw Footage" is a part, "Harbour Footage" may be a project. */
const QUALIFIERS = new Set('raw camera cam a b c all original final location source the'.split(' '));

const YEAR = /^(?:19|20)\d\d$/;

/**
 * Guesses which folders are projects, from what lies directly below the root. The root is taken as one project when at
 * least two of its folders, and at least half of them, are named like the parts of a project, one of them like
 * recordings, and none of the others is divided that way itself. Otherwise its first-level folders are projects; it never
 * guesses deeper than that, but says when folders look like years.
 */
export function guessProjectRule(children: readonly RootChild[]): ProjectGuess {
  const folders = children.filter(({ name, isDir }) => isDir && !name.startsWith('.') && systemName(name, 0) === null);
  const parts = folders.filter(({ name }) => isPart(name));
  const others = folders.filter(({ name }) => !isPart(name));
  const nested = others.filter(({ grandChildren }) => looksLikeProject(grandChildren ?? []));
  const evidence = parts.map(({ name }) => name);
  if (looksLikeProject(folders.map(({ name }) => name)) && nested.length === 0) {
    return { rule: '.', reason: 'looks-like-one-project', evidence, suggestion: null };
  }
  const projects = folders.filter(({ name }) => !isSharedName(name));
  const reason = projects.length === 0 ? 'nothing-to-go-by' : 'holds-projects';
  return { rule: '*', reason, evidence: projects.map(({ name }) => name), suggestion: suggest(projects) };
}

function looksLikeProject(names: readonly string[]): boolean {
  const parts = names.filter(isPart);
  return parts.length >= 2 && parts.length * 2 >= names.length && parts.some((name) => RECORDED.has(bareName(name)));
}

function isPart(name: string): boolean {
  const bare = bareName(name);
  return RECORDED.has(bare) || WORKING.has(bare);
}

/** `01_Raw Footage` -> `footage`: without sorting numbers and qualifying words. Other words make it a name of its own. */
function bareName(name: string): string {
  const words = name
    .toLowerCase()
    .split(/[\s._-]+/)
    .filter((word) => word !== '' && !/^\d+$/.test(word));
  const telling = words.filter((word) => !QUALIFIERS.has(word));
  return (telling.length === 0 ? words.slice(-1) : telling).join(' ');
}

function suggest(projects: readonly RootChild[]): string | null {
  const years = projects.filter(({ name }) => YEAR.test(name)).map(({ name }) => name);
  if (years.length > 0) {
    return `folders such as ${years.slice(0, 3).join(', ')} look like years: if projects lie inside them, set projects = "*/*"`;
  }
  const inside = projects.flatMap(({ name, grandChildren }) =>
    (grandChildren ?? []).filter((grandChild) => YEAR.test(grandChild)).map((year) => `${name}/${year}`),
  );
  if (inside.length === 0) return null;
  return `folders such as ${inside.slice(0, 3).join(', ')} look like years: if projects lie inside them, set projects = "*/*/*"`;
}
