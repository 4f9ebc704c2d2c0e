import type { z } from 'zod';
import { type Leaf, locate, TomlDate, type Tree } from './position.ts';
import { didYouMean, foundText, problemAt } from './problem.ts';
import { configuration, KNOWN_KEYS } from './schema.ts';
import type { SettingsProblem } from './settings.ts';
import { quoted, visible } from './show.ts';

/** The problems that the schema finds: wrong keys, wrong types, values that cannot be read. `value` is the tree's plain value. */
export function schemaProblems(tree: Tree, value: unknown): SettingsProblem[] {
  const result = configuration.safeParse(value);
  if (result.success) return [];
  return result.error.issues.flatMap((issue) =>
    issue.code === 'unrecognized_keys' ? unknownKeys(tree, issue) : [wrongValue(tree, issue)],
  );
}

function unknownKeys(tree: Tree, issue: z.core.$ZodIssueUnrecognizedKeys): SettingsProblem[] {
  const { node } = locate(tree, issue.path);
  const place = issue.path.filter((step) => typeof step === 'string').join('.');
  const known = KNOWN_KEYS.get(place) ?? [];
  return issue.keys.map((key) => {
    const entry = node.kind === 'table' ? node.entries.get(key) : undefined;
    const expected = place === '' ? `one of the tables ${known.join(', ')}` : `one of the keys ${known.join(', ')}`;
    const hint = didYouMean(key, known) ?? belongsElsewhere(key, place);
    return problemAt(entry?.keyAt ?? node.at, [...issue.path, key], expected, quoted(key), hint);
  });
}

/** In TOML a key belongs to the table header above it, so a right key in the wrong table is a common slip. */
function belongsElsewhere(key: string, place: string): string | null {
  const homes = [...KNOWN_KEYS].filter(([home, keys]) => home !== place && home !== '' && keys.includes(key));
  if (homes.length === 0 || homes.length > 2) return null;
  const named = homes.map(([home]) => (isList(home) ? `[[${home}]]` : `[${home}]`));
  return `${quoted(key)} belongs in ${named.join(' or ')}`;
}

function isList(place: string): boolean {
  return ['volume', 'shelf', 'backup', 'plan', 'notify'].includes(place);
}

/** Settings that say where a secret is. */
const NAMES_SECRETS: ReadonlySet<PropertyKey> = new Set(['secret_file', 'password_file']);

function wrongValue(tree: Tree, issue: z.core.$ZodIssue): SettingsProblem {
  const { node, whole } = locate(tree, issue.path);
  if (!whole) return problemAt(node.at, issue.path, issue.message, 'nothing');
  // Whoever wrote the secret itself there must not read it again in a log.
  if (NAMES_SECRETS.has(issue.path.at(-1) ?? ''))
    return problemAt(
      node.at,
      issue.path,
      issue.message,
      'something else',
      issue.code === 'custom' ? readingHint(issue) : null,
    );
  return problemAt(node.at, issue.path, issue.message, foundText(node), hintFor(node, issue));
}

function hintFor(node: Tree, issue: z.core.$ZodIssue): string | null {
  if (issue.code === 'custom') return readingHint(issue);
  if (node.kind !== 'leaf') return null;
  if (issue.code === 'invalid_value' && typeof node.value === 'string') {
    const near = didYouMean(node.value, issue.values.map(String));
    if (near !== null) return near;
  }
  return mendedWriting(node, issue.path);
}

/** What the reader of the value said; see `leaf.ts`. */
function readingHint(issue: z.core.$ZodIssueCustom): string | null {
  const hint: unknown = issue.params?.['hint'];
  return typeof hint === 'string' ? hint : null;
}

/** A value of the wrong type whose other writing would be right: quotes missing or too many, a list of one without brackets. */
function mendedWriting(node: Leaf, path: readonly PropertyKey[]): string | null {
  if (typeof node.value !== 'string') {
    const text = node.value instanceof TomlDate ? node.value.source : node.source;
    return accepts(path, text) ? `write it in quotes: ${quoted(text)}` : null;
  }
  if (accepts(path, [node.value])) return `write it as a list: [${quoted(node.value)}]`;
  const bare = node.value === 'true' ? true : node.value === 'false' ? false : Number(node.value);
  const written = node.value.trim() !== '' && accepts(path, bare);
  return written ? `write it without quotes: ${visible(node.value)}` : null;
}

/** Would the schema take `candidate` at this place? Asked of a configuration that holds nothing else. */
function accepts(path: readonly PropertyKey[], candidate: unknown): boolean {
  const place = path.map((step) => (typeof step === 'number' ? 0 : step));
  const value = place.reduceRight<unknown>((inner, step) => (step === 0 ? [inner] : { [step]: inner }), candidate);
  const result = configuration.safeParse(value);
  return (
    result.success || !result.error.issues.some((issue) => place.every((step, index) => step === issue.path[index]))
  );
}
