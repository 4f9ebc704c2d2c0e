import { nearMiss } from './near-miss.ts';
import { type Place, TomlDate, type Tree } from './position.ts';
import type { SettingsProblem } from './settings.ts';
import { quoted, quotedShort, visible } from './show.ts';

/** `volume[0].reserve`; keys that are not plain words are quoted and escaped. */
export function keyText(path: readonly PropertyKey[]): string {
  let text = '';
  for (const step of path) {
    if (typeof step === 'number') text += `[${step}]`;
    else text += `${text === '' ? '' : '.'}${/^[\w-]+$/.test(String(step)) ? String(step) : quotedShort(String(step))}`;
  }
  return text;
}

/** What stands in the file, safe to print and never long. */
export function foundText(node: Tree): string {
  if (node.kind === 'table') return 'a table';
  if (node.kind === 'list') return node.items.length === 0 ? 'an empty list' : `a list of ${node.items.length}`;
  if (node.value instanceof TomlDate) return `${visible(node.value.source)} (a date without quotes)`;
  return typeof node.value === 'string' ? quotedShort(node.value) : visible(node.source).slice(0, 60);
}

/** One problem, at a place. */
export function problemAt(
  at: Place,
  path: readonly PropertyKey[],
  expected: string,
  found: string,
  hint: string | null = null,
): SettingsProblem {
  return {
    line: at.line,
    column: at.column,
    key: keyText(path),
    expected,
    found,
    hint: hint === null ? null : visible(hint),
  };
}

/** `did you mean "reserve"?`, or `null` when nothing known is near. */
export function didYouMean(written: string, known: readonly string[]): string | null {
  const near = nearMiss(written, known);
  return near === null ? null : `did you mean ${quoted(near)}?`;
}

/** In the order of the file; what has no line comes last. The same thing said twice of one place is said once. */
export function inFileOrder(problems: readonly SettingsProblem[]): SettingsProblem[] {
  const last = Number.MAX_SAFE_INTEGER;
  const once = new Map(problems.map((problem) => [JSON.stringify(problem), problem]));
  return [...once.values()].sort((a, b) => (a.line ?? last) - (b.line ?? last) || (a.column ?? 0) - (b.column ?? 0));
}
