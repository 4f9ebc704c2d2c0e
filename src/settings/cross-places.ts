import { indicesAt, textAt, textsAt, type WrittenText } from './look.ts';
import { holds, parseFolderBelow, parsePath, placePath } from './places.ts';
import type { Tree } from './position.ts';
import { keyText, problemAt } from './problem.ts';
import type { SettingsProblem } from './settings.ts';
import { quotedShort } from './show.ts';

/**
 * Names of volumes, shelves and commands; folders of volumes and shelves. Each name stands for one place. No watched folder may lie in another, or
 * clips would count twice; no shelf in a volume, or its copies would count as footage.
 */
export function placeProblems(tree: Tree, homeDir: string): SettingsProblem[] {
  const places = ['volume', 'shelf'].flatMap((kind) => indicesAt(tree, [kind]).map((index) => [kind, index] as const));
  const commands = indicesAt(tree, ['backup']).map((index) => ['backup', index] as const);
  const names = [...places, ...commands].flatMap((place) => textAt(tree, [...place, 'name']) ?? []);
  const paths = places.flatMap((place) => placed(textAt(tree, [...place, 'path']), homeDir));
  return [
    ...laterOnes(names, sameName),
    ...laterOnes(paths, overlap),
    ...indicesAt(tree, ['volume']).flatMap((index) => laterOnes(ingestFolders(tree, index), overlap)),
  ];
}

/** Compares each with all that come before it in the file, and reports it once. */
function laterOnes<T extends WrittenText>(
  all: readonly T[],
  compare: (later: T, earlier: T) => SettingsProblem | null,
): SettingsProblem[] {
  const sorted = all.toSorted((a, b) => a.at.line - b.at.line || a.at.column - b.at.column);
  return sorted.flatMap((later, index) => {
    for (const earlier of sorted.slice(0, index)) {
      const problem = compare(later, earlier);
      if (problem !== null) return [problem];
    }
    return [];
  });
}

function sameName(later: WrittenText, earlier: WrittenText): SettingsProblem | null {
  if (later.text !== earlier.text) return null;
  const found = `${quotedShort(later.text)}, which is ${keyText(earlier.path)} on line ${earlier.at.line}`;
  return problemAt(later.at, later.path, 'a name that no other volume, shelf or command has', found);
}

interface PlacedText extends WrittenText {
  /** Plain, so that two spellings of one folder are the same. */
  folder: string;
}

function overlap(later: PlacedText, earlier: PlacedText): SettingsProblem | null {
  const inside = holds(earlier.folder, later.folder);
  if (!inside && !holds(later.folder, earlier.folder)) return null;
  const how = later.folder === earlier.folder ? 'the same as' : inside ? 'which lies in' : 'which holds';
  const found = `${quotedShort(later.text)}, ${how} ${keyText(earlier.path)} on line ${earlier.at.line}`;
  return problemAt(later.at, later.path, 'a folder that shares nothing with the others', found);
}

function placed(written: WrittenText | null, homeDir: string): PlacedText[] {
  if (written === null || !parsePath(written.text).ok) return [];
  return [{ ...written, folder: placePath(written.text, homeDir) }];
}

function ingestFolders(tree: Tree, volume: number): PlacedText[] {
  return textsAt(tree, ['volume', volume, 'ingest']).flatMap((written) => {
    const reading = parseFolderBelow(written.text);
    return reading.ok ? [{ ...written, folder: reading.value }] : [];
  });
}
