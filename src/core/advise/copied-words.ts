import type { WantedAssessment } from '../assess/assessment.ts';
import { type Copied, NOTHING_COPIED } from '../backup/project-copies.ts';
import { display } from '../present/escape.ts';
import { formatBytes, isoWithOffset, listWords } from '../units.ts';

/** Several sums as one; the oldest reading of all counts. */
export function together(parts: readonly Copied[]): Copied {
  const some = parts.filter(({ bytes }) => bytes > 0);
  const reads = some.flatMap(({ oldestReadAt }) => oldestReadAt ?? []);
  return some.length === 0
    ? NOTHING_COPIED
    : {
        bytes: some.reduce((sum, { bytes }) => sum + bytes, 0),
        oldestReadAt: reads.length === 0 ? null : Math.min(...reads),
        shelves: [...new Set(some.flatMap(({ shelves }) => shelves))].sort(),
      };
}

/** What has its copies, where, and since when they were read: `800 GB of it have 2 verified copies, on shelf-a and shelf-b, each read back on 2027-02-11 or later`. */
export function copiedWords(what: string, copied: Copied, { copies }: WantedAssessment, zone: string): string {
  const { shelves, oldestReadAt } = copied;
  const on = shelves.length === 0 ? '' : `, on ${listWords(shelves.map(display))}`;
  const read =
    oldestReadAt === null ? '' : `, each read back on ${isoWithOffset(oldestReadAt, zone).slice(0, 10)} or later`;
  return `${what} ${copies === 1 ? 'have a verified copy' : `have ${copies} verified copies`}${on}${read}`;
}

/** What is missing of what is wanted: `200 GB have fewer than 2 verified copies that were read back within 60 days`. */
export function lackingWords(bytes: number, { copies, readWithinDays }: WantedAssessment): string {
  const how = copies === 1 ? 'no verified copy that was' : `fewer than ${copies} verified copies that were`;
  return `${formatBytes(bytes)} have ${how} read back within ${readWithinDays} days`;
}

/** Said with whatever may lead to footage being taken away. */
export const LOOK_FIRST = 'Look at those copies before anything is removed';
