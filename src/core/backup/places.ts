import type { PathText } from '../model.ts';
import type { BacklogFile } from './copies.ts';

/** Below it, on a shelf, lie versions that are no longer the newest, by volume and by the backup that came upon them. */
const EARLIER_FOLDER = 'Earlier versions';

/** Where a file's copy belongs: as on the volume, in a folder of the volume's name. */
function copyPlace(volume: string, path: PathText): PathText {
  return `${volume}/${path}`;
}

/** Where a version goes that is not the one to be found first. `stamp`: of the backup, without signs that a file system refuses. */
function earlierPlace(volume: string, path: PathText, stamp: string): PathText {
  return `${EARLIER_FOLDER}/${volume}/${stamp}/${path}`;
}

/** What is done with a file that a shelf lacks. */
export type Placing =
  | { do: 'copy'; target: PathText }
  /** The earlier version goes aside, then it is copied. */
  | { do: 'replace'; from: PathText; aside: PathText; target: PathText }
  /** The earlier copy stays where it is; this one goes beside it. `altered`: it ought never to have changed. */
  | { do: 'beside'; target: PathText; altered: boolean };

/**
 * Camera originals and sound never change: where one has, the copy that was made first is the good one until a person has looked. Of all
 * else the newest version is the one that is wanted first. A copy that is no longer what was written is not touched.
 */
export function placeCopy({ file, earlier }: BacklogFile, stamp: string): Placing {
  const target = copyPlace(file.volume, file.path);
  const aside = earlierPlace(file.volume, file.path, stamp);
  if (earlier === null) return { do: 'copy', target };
  if (earlier.state !== 'good') return { do: 'beside', target: aside, altered: false };
  const isRecorded = file.kind === 'original' || file.kind === 'sound';
  return isRecorded ? { do: 'beside', target: aside, altered: true } : { do: 'replace', from: target, aside, target };
}

/** `2027-03-04 0400`, in UTC, to the second where needed: names of folders on any file system. */
export function stampOf(instant: number): string {
  const text = Temporal.Instant.fromEpochMilliseconds(Math.floor(instant)).toString({ smallestUnit: 'second' });
  return text.replaceAll(':', '').replace('T', ' ').replace('Z', '');
}
