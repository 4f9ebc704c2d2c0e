import { setImmediate as nextTurn } from 'node:timers/promises';
import { type CardEntry, type CardSigns, cardLayoutOf } from '../../core/cards/card-signs.ts';
import type { InventoryFile } from '../../core/cards/inventory.ts';
import type { PathText } from '../../core/model.ts';
import { type CardTree, CardVanished, ensureThere, isOnCard, namesIn, statOf, type TreeEntry } from './card-tree.ts';

/** Of each folder so many names are looked at to decide whether this is a card, and so many folders of each level. */
const NAMES_TO_DECIDE = 500;
const FOLDERS_TO_DECIDE = 100;

/** Levels of names that a layout is recognised by. */
const LEVELS_TO_DECIDE = 3;

/** More files than on any card, and as many as can be kept and compared well. */
const MOST_FILES = 200_000;
const MOST_NAMES_IN_FOLDER = MOST_FILES;

const SLICE_MS = 10;

export interface ListingEars {
  /** So many names were looked at: a sign of life. */
  progress(names: number): void;
  files(files: InventoryFile[]): void;
}

/** Decides from the names in the first levels; `empty`: there is no name at all yet. Throws what reading the root throws. */
export async function recognise(
  tree: CardTree,
  ears: Pick<ListingEars, 'progress'>,
): Promise<{ signs: CardSigns | null; empty: boolean }> {
  const seen: CardEntry[] = [];
  let level: PathText[] = [''];
  for (let depth = 0; depth < LEVELS_TO_DECIDE && level.length > 0; depth += 1) {
    const folders: PathText[] = [];
    for (const dir of level.slice(0, FOLDERS_TO_DECIDE)) {
      for (const { path, is } of readableNames(tree, dir)) {
        seen.push({ path, dir: is === 'folder' });
        if (is === 'folder') folders.push(path);
      }
      ears.progress(seen.length);
      await nextTurn();
    }
    level = folders;
  }
  // Only with all of them: what else lies there may speak against it.
  return { signs: cardLayoutOf(seen), empty: seen.length === 0 };
}

/** The root must be readable; a folder below it that is not decides nothing. */
function readableNames(tree: CardTree, dir: PathText): TreeEntry[] {
  if (dir === '') return namesIn(tree, dir, NAMES_TO_DECIDE);
  try {
    return isOnCard(tree, dir) ? namesIn(tree, dir, NAMES_TO_DECIDE) : [];
  } catch {
    return [];
  }
}

/**
 * Lists every file of a card with size and time, folder by folder; opens none.
 * @returns what could not be read, in words; `null` when all of it was
 */
export async function listFiles(tree: CardTree, ears: ListingEars): Promise<string | null> {
  const trouble: string[] = [];
  const folders: PathText[] = [''];
  let files = 0;
  try {
    for (let dir = folders.shift(); dir !== undefined; dir = folders.shift()) {
      files += await listFolder(tree, dir, { ears, folders, trouble });
      if (files > MOST_FILES) return `more than ${MOST_FILES} files; the others were not read`;
    }
    ensureThere(tree);
  } catch (error) {
    if (error instanceof CardVanished) return `${error.message} while it was read`;
    throw error;
  }
  const [first] = trouble;
  if (first === undefined) return null;
  return trouble.length === 1 ? first : `${first}, and ${trouble.length - 1} more`;
}

interface Listing {
  ears: ListingEars;
  /** Still to be read. */
  folders: PathText[];
  trouble: string[];
}

/** Throws `CardVanished`; whatever else cannot be read is noted. Returns how many files there are. */
async function listFolder(tree: CardTree, dir: PathText, { ears, folders, trouble }: Listing): Promise<number> {
  ensureThere(tree);
  const files: InventoryFile[] = [];
  let until = performance.now() + SLICE_MS;
  let entries: TreeEntry[] = [];
  try {
    if (!isOnCard(tree, dir)) return 0;
    entries = namesIn(tree, dir, MOST_NAMES_IN_FOLDER);
  } catch (error) {
    noteTrouble(tree, dir, error, trouble);
  }
  for (const { path, is } of entries) {
    if (is === 'folder') folders.push(path);
    else takeFile(tree, path, files, trouble);
    if (performance.now() < until) continue;
    ears.files(files.splice(0));
    await nextTurn();
    until = performance.now() + SLICE_MS;
  }
  ensureThere(tree);
  ears.files(files);
  await nextTurn();
  return entries.length;
}

function takeFile(tree: CardTree, path: PathText, files: InventoryFile[], trouble: string[]): void {
  try {
    const stat = statOf(tree, path);
    if (stat.isFile()) files.push({ path, size: Number(stat.size), mtimeMs: Number(stat.mtimeMs) });
  } catch (error) {
    noteTrouble(tree, path, error, trouble);
  }
}

/** What went meanwhile is no trouble, unless the whole card went. */
function noteTrouble(tree: CardTree, path: PathText, error: unknown, trouble: string[]): void {
  ensureThere(tree);
  const { code, message } = error as NodeJS.ErrnoException;
  if (code === 'ENOENT') return;
  trouble.push(`${path === '' ? 'its first folder' : path} cannot be read (${message.replace(/ '.*$/s, '')})`);
}
