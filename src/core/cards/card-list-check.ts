import { baseName, dirName, joinPath } from '../intake/path-text.ts';
import type { Instant, PathText } from '../model.ts';
import { cardFileRole } from './card-role.ts';
import { fold } from './claim-board.ts';
import type { ArrivedVersion, KnownList } from './known-list.ts';
import { checkList, filesToRead, type ListCheck, type ListSides, MOST_KEPT, type ToRead } from './list-check.ts';
import type { Place, Reconciliation } from './reconciliation.ts';

/** A list on a card set beside what arrived of the card, wherever it lies. */
export interface CardListCheck extends ListCheck {
  /** Listed footage that was not on the card when that was read, and does not lie where the rest of the card does. */
  notOnCard: number;
  /** The first of it. */
  firstNotOnCard: PathText[];
}

/** Where a listed file was found, or may lie; `onCard`: the card has it. */
export interface ListedPlaces {
  onCard: boolean;
  places: Place[];
}

/** What the card does not hold is looked for in so many folders. */
const FOLDERS_EACH = 4;

/** For each path of the list, in its order. `base`: the folder on the card that its paths begin at. */
export function listedPlaces(
  { files: listed }: Pick<KnownList, 'files'>,
  base: PathText,
  { files }: Pick<Reconciliation, 'files'>,
): Map<PathText, ListedPlaces> {
  const exact = new Map(files.map((one) => [one.file.path, one]));
  // Names compare as the file systems of cards compare them.
  const folded = new Map(files.map((one) => [fold(one.file.path), one]));
  const arrived = new ArrivedFolders(files);
  return new Map(
    listed.map(({ path }): [PathText, ListedPlaces] => {
      const onCard = joinPath(base, path);
      const known = exact.get(onCard) ?? folded.get(fold(onCard));
      if (known === undefined) return [path, { onCard: false, places: arrived.placesOf(onCard) }];
      const { found, verdict } = known;
      // What lies at its place in another size has not arrived: that is told of the card.
      const lies = found === null || verdict === 'differs' ? [] : [{ volume: found.volume, path: found.path }];
      return [path, { onCard: true, places: lies }];
    }),
  );
}

/** Folders on volumes that folders of the card arrived in, under the names that its files have there. */
class ArrivedFolders {
  readonly #beside = new Map<PathText, Map<string, Place>>();
  readonly #roots = new Map<string, Place>();

  constructor(files: Reconciliation['files']) {
    for (const { file, found } of files) {
      if (found === null || baseName(fold(file.path)) !== baseName(fold(found.path))) continue;
      const { volume } = found;
      const folder = fold(dirName(file.path));
      const beside = this.#beside.get(folder) ?? new Map<string, Place>();
      this.#beside.set(folder, add(beside, { volume, path: dirName(found.path) }));
      const isWhole = fold(`/${found.path}`).endsWith(fold(`/${file.path}`));
      const depth = file.path.split('/').length;
      if (isWhole) add(this.#roots, { volume, path: found.path.split('/').slice(0, -depth).join('/') });
    }
  }

  /** Beside what lay beside it, or else where the rest of the card lies. */
  placesOf(path: PathText): Place[] {
    const beside = this.#beside.get(fold(dirName(path)));
    const [from, name] = beside === undefined ? [this.#roots, path] : [beside, baseName(path)];
    return [...from.values()].map(({ volume, path: folder }) => ({ volume, path: joinPath(folder, name) }));
  }
}

function add(folders: Map<string, Place>, place: Place): Map<string, Place> {
  if (folders.size < FOLDERS_EACH) folders.set(keyOf(place), place);
  return folders;
}

/**
 * Judges every file of a list on a card by what is known of the contents at these places, and says what is to be read for
 * it. `now`: what lies there.
 */
export function checkCardList(
  {
    list,
    base,
    where,
    now,
  }: {
    list: KnownList;
    base: PathText;
    where: ReadonlyMap<PathText, ListedPlaces>;
    now: readonly ArrivedVersion[];
  },
  mark: string,
  at: Instant,
): { check: CardListCheck; toRead: ToRead[] } {
  const byPlace = new Map(now.map((version) => [keyOf(version), version]));
  const found = new Map<PathText, ArrivedVersion>();
  for (const [path, { places }] of where) {
    const version = places.map((place) => byPlace.get(keyOf(place))).find((one) => one !== undefined);
    if (version !== undefined) found.set(path, version);
  }
  // As if all lay at the paths of the list.
  const named = [...found].map(([path, version]): ArrivedVersion => ({ ...version, path }));
  const sides: ListSides = { list, base: '', now: named, whole: false };
  const { first, ...counts } = checkList(sides, mark, at);
  const gone = [...where].flatMap(([path, { onCard, places }]) => {
    const isFootage = cardFileRole(joinPath(base, path)) === 'footage';
    return onCard || places.length === 0 || found.has(path) || !isFootage ? [] : [path];
  });
  const altered = first.altered.map((one) => {
    const { volume, path } = found.get(one.path) ?? { volume: '', path: one.path };
    return { ...one, at: { volume, path } };
  });
  return {
    check: {
      ...counts,
      first: { ...first, altered },
      notOnCard: gone.length,
      firstNotOnCard: gone.sort().slice(0, MOST_KEPT),
    },
    toRead: filesToRead(sides).map((one) => ({ ...one, version: found.get(one.version.path) ?? one.version })),
  };
}

function keyOf({ volume, path }: Place): string {
  return `${volume}\0${path}`;
}
