import { backupProblems } from './cross-backups.ts';
import { notifyProblems } from './cross-notify.ts';
import { orderProblems } from './cross-order.ts';
import { placeProblems } from './cross-places.ts';
import { LEVELS, membersWanted } from './layout.ts';
import { indicesAt, leafAt, textAt, textsAt } from './look.ts';
import type { Tree } from './position.ts';
import { foundText, problemAt } from './problem.ts';
import { kindsTable } from './schema-volume.ts';
import type { SettingsProblem } from './settings.ts';
import { quotedShort } from './show.ts';

/**
 * Problems between values that are each right by themselves. Works on the tree, not on the schema's output, so that
 * one wrong value elsewhere hides none of these; values that are wrong by themselves are passed over here.
 */
export function crossProblems(tree: Tree, homeDir: string): SettingsProblem[] {
  return [
    ...placeProblems(tree, homeDir),
    ...backupProblems(tree),
    ...notifyProblems(tree),
    ...orderProblems(tree),
    ...layoutProblems(tree),
    ...indicesAt(tree, ['volume']).flatMap((index) => kindProblems(tree, index)),
    ...indicesAt(tree, ['plan']).flatMap((index) => repeated(tree, ['plan', index, 'days'], 'each day only once')),
  ];
}

/** Members that the declared level cannot be built of. */
function layoutProblems(tree: Tree): SettingsProblem[] {
  return indicesAt(tree, ['volume']).flatMap((index) => {
    const written = textAt(tree, ['volume', index, 'layout', 'level'])?.text;
    const level = LEVELS.find((name) => name === written);
    const path = ['volume', index, 'layout', 'members'];
    const members = leafAt(tree, path);
    if (level === undefined || typeof members?.value !== 'number' || !Number.isInteger(members.value)) return [];
    const wanted = members.value < 1 ? null : membersWanted(level, members.value);
    return wanted === null ? [] : [problemAt(members.at, path, wanted, foundText(members))];
  });
}

/** A folder cannot hold two kinds. */
function kindProblems(tree: Tree, volume: number): SettingsProblem[] {
  const named = Object.keys(kindsTable.shape)
    .flatMap((kind) => textsAt(tree, ['volume', volume, 'kinds', kind]))
    .toSorted((a, b) => a.at.line - b.at.line || a.at.column - b.at.column);
  const seen = new Set<string>();
  return named.flatMap(({ text, at, path }) => {
    const name = text.normalize('NFC').toLowerCase();
    if (!seen.has(name)) {
      seen.add(name);
      return [];
    }
    return [problemAt(at, path, 'each folder name only once, case aside', quotedShort(text))];
  });
}

function repeated(tree: Tree, list: readonly PropertyKey[], expected: string): SettingsProblem[] {
  const texts = textsAt(tree, list);
  return texts
    .filter(({ text }, index) => texts.findIndex((other) => other.text === text) < index)
    .map(({ text, at, path }) => problemAt(at, path, expected, `${quotedShort(text)} again`));
}
