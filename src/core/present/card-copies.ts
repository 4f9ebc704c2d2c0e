import { type CopyTally, leastCopies } from '../cards/copy-tally.ts';
import { formatCount } from '../units.ts';
import { display } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';

/** Verified copies of files that arrived. Texts are escaped. */
export interface CopiesSnapshot {
  /** The files that were looked up. */
  files: number;
  /** The smallest number of verified copies, on different drives, that any of them has; `null`: there are no files. */
  fewest: number | null;
  /** Of the files so many have none. */
  without: number;
  /** All have as many as `fewest`. */
  alike: boolean;
  /** Shelves with verified copies, and how many of the files have none there. */
  shelves: { name: string; files: number; lacking: number }[];
  /** When, of all these copies, the one that was not read for longest was read back last. */
  lastReadAt: IsoTime | null;
}

/** Said beside every such statement: what it is not. */
export const NO_LEAVE =
  'Arrived means by name and size. None of this is leave to erase a card: keep it until you have looked at the copies yourself.';

export function copiesSnapshot(tally: CopyTally, iso: IsoOf): CopiesSnapshot {
  const { files, byCopies, shelves, oldestReadAt } = tally;
  return {
    files,
    fewest: leastCopies(tally),
    without: byCopies[0] ?? 0,
    alike: byCopies.filter((count) => count > 0).length < 2,
    shelves: shelves.map((shelf) => ({
      name: display(shelf.name),
      files: shelf.files,
      lacking: files - shelf.files,
    })),
    lastReadAt: oldestReadAt === null ? null : iso(oldestReadAt),
  };
}

/** What copies the files have, from "each" on: `each has 2 verified copies, on shelf-a and shelf-b, last read back on 2027-03-04`. */
export function copiesWords({ files, fewest, without, alike, shelves, lastReadAt }: CopiesSnapshot): string {
  if (fewest === null || shelves.length === 0)
    return files === 1 ? 'it has no verified copy' : 'none of them has a verified copy';
  const read =
    lastReadAt === null
      ? ''
      : `, last read back on ${lastReadAt.slice(0, 10)}${alike && files === 1 ? '' : ' or later'}`;
  const where = listed(shelves.map(placeWords));
  if (fewest === 0) {
    const have = without === 1 ? 'has' : 'have';
    return `${without} of them ${have} no verified copy; the verified copies of the others are on ${where}${read}`;
  }
  const each = files === 1 ? 'it' : 'each';
  return `${each} has ${formatCount(fewest, 'verified copy', 'verified copies')}${alike ? '' : ' or more'}, on ${where}${read}`;
}

function placeWords({ name, lacking }: CopiesSnapshot['shelves'][number]): string {
  if (lacking === 0) return name;
  return `${name} (${formatCount(lacking, 'file')} ${lacking === 1 ? 'is' : 'are'} not there)`;
}

/** `a`, `a and b`, `a, b and c`. */
function listed(names: readonly string[]): string {
  const last = names.at(-1) ?? '';
  return names.length < 2 ? last : `${names.slice(0, -1).join(', ')} and ${last}`;
}
