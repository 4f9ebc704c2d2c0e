import { HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import { NestedHistories } from '../../core/backup/mhl-nested.ts';
import type { ArrivedVersion, KnownList, ListPort, SumStorePort } from '../../core/cards/known-list.ts';
import { checkList, filesToRead, type ListSides, untrusted } from '../../core/cards/list-check.ts';
import { baseName, dirName, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import type { CardEntry } from './card-entry.ts';
import type { Comparison } from './list-comparison.ts';

/** With more files below its folder a history's list is set beside the listed places alone: then nothing is found renamed. */
const MOST_BELOW = 50_000;

export interface CopiedListDeps {
  /** Where a volume lies; `null`: it is not there now. */
  rootOf: (volume: string) => string | null;
  lists: ListPort;
  contents: Pick<SumStorePort, 'versionsAt' | 'versionsBelow'>;
  clock: Pick<Clock, 'now'>;
  /** A history lists other files than are known of it. */
  listed: (entry: CardEntry, list: KnownList) => void;
}

/** A list that came with footage, beside what lies in its folder. */
export function copiedList(
  { clock, contents, listed, lists, rootOf }: CopiedListDeps,
  entry: CardEntry,
  mark: string,
): Comparison {
  const { id, on, place } = entry.head;
  return {
    ...{ key: id, entry, place, mark, mayMove: baseName(place) === HISTORY_FOLDER },
    known: () => entry.check,
    async open() {
      const root = on === null ? null : rootOf(on.volume);
      if (on === null || root === null) return null;
      const read = await lists.read(root, { place, base: on.base });
      if (!read.ok) return async () => ({ check: untrusted(read.detail, mark, clock.now()), toRead: [] });
      if (read.list.kind === 'history') listed(entry, read.list);
      return async () => {
        const sides = await sidesOf(contents, read.list, on);
        return { check: checkList(sides, mark, clock.now()), toRead: filesToRead(sides) };
      };
    },
    keep(check) {
      entry.check = check;
    },
    /** With nothing missing it is complete, though a file may be here under another name. */
    settled() {
      const { check } = entry;
      if (check !== null && check.missing + check.arriving + check.altered === 0) entry.completeAt ??= clock.now();
    },
  };
}

async function sidesOf(
  contents: CopiedListDeps['contents'],
  list: KnownList,
  { volume, base }: { volume: string; base: string },
): Promise<ListSides> {
  const below = list.kind === 'history' && base !== '' ? await contents.versionsBelow(volume, base, MOST_BELOW) : null;
  if (below !== null) return { list, base, now: ownOf(below, base), whole: true };
  const places = list.files.map(({ path }) => ({ volume, path: joinPath(base, path) }));
  return { list, base, now: await contents.versionsAt(places), whole: false };
}

/** Without what belongs to histories further down, and without the lists themselves. */
function ownOf(versions: readonly ArrivedVersion[], base: PathText): ArrivedVersion[] {
  const within = ({ path }: ArrivedVersion) => path.slice(base.length + 1);
  const folders = versions.map((version) => dirName(within(version)));
  const roots = folders.filter((folder) => baseName(folder) === HISTORY_FOLDER).map(dirName);
  const nested = new NestedHistories(roots);
  return versions.filter((version) => nested.closest(within(version)) === '');
}
