import { assemble } from './assemble.ts';
import { crossProblems } from './cross.ts';
import type { FullSettingsResult } from './full-settings.ts';
import { schemaProblems } from './issues.ts';
import { plainValue, type Table } from './position.ts';
import { inFileOrder, problemAt } from './problem.ts';
import { configuration } from './schema.ts';
import type { SettingsProblem } from './settings.ts';
import { readToml } from './syntax.ts';

export interface SettingsContext {
  /** What `~` stands for; absolute. */
  homeDir: string;
  /** Folders come with the command, so that the file need not name a volume. */
  foldersGiven?: boolean;
}

/** Tables that come more than once, so with double brackets. */
const LISTS = ['volume', 'shelf', 'backup', 'plan', 'notify'];

/**
 * Reads a configuration (TOML, UTF-8, with or without a byte order mark). Never throws: either the settings, defaults
 * filled in and units resolved, or every problem of the file at once, in the order of the file. Of syntax errors only
 * the first can be told.
 */
export function parseSettings(text: string, context: SettingsContext): FullSettingsResult {
  const plain = text.startsWith('\uFEFF') ? text.slice(1) : text;
  const read = readToml(plain);
  if (!read.ok) return { ok: false, problems: [read.problem] };
  const { tree } = read;
  const problems = singleBrackets(tree);
  const value = plainValue(tree);
  problems.push(...schemaProblems(tree, value), ...crossProblems(tree, context.homeDir));
  if (!tree.entries.has('volume') && context.foldersGiven !== true) problems.push(noVolume());
  if (problems.length > 0) return { ok: false, problems: inFileOrder(problems) };
  return { ok: true, settings: assemble(configuration.parse(value), context.homeDir) };
}

/** `[volume]` for `[[volume]]`: told, then taken as the list of one that was meant, so that what stands in it is checked too. */
function singleBrackets(tree: Table): SettingsProblem[] {
  return LISTS.flatMap((name) => {
    const entry = tree.entries.get(name);
    if (entry?.kind !== 'table') return [];
    tree.entries.set(name, { kind: 'list', at: entry.at, keyAt: entry.keyAt, items: [entry] });
    const hint = 'double brackets: there may be several';
    return [problemAt(entry.at, [name], `[[${name}]]`, `[${name}], a single table`, hint)];
  });
}

function noVolume(): SettingsProblem {
  const hint = 'give it a name and a path: [[volume]] name = "stripe" path = "/media/stripe"';
  return { line: null, column: null, key: 'volume', expected: 'at least one [[volume]] table', found: 'none', hint };
}
