import type { KnownShelf } from './copies.ts';
import type { ShelfGuard } from './copy-port.ts';
import { MARKER_NAME, type ShelfLook } from './shelf-port.ts';

/** Why nothing is copied to a shelf now. Also log field. */
export type ShelfRefusal =
  | 'shelf-absent'
  | 'shelf-unmarked' // a folder that may be anything: a person has to say that it is the shelf
  | 'shelf-another' // a marker of another shelf
  | 'shelf-damaged' // its marker cannot be read
  | 'same-device' // the working volume's own
  | 'same-drive'; // another partition of a drive that the working volume lies on

export type ShelfVerdict =
  | { is: 'ready'; id: string; guard: ShelfGuard; drive: string | null; look: Extract<ShelfLook, { is: 'there' }> }
  /** Nothing was ever copied there: a marker is to be written first. */
  | { is: 'new'; look: Extract<ShelfLook, { is: 'there' }> }
  | { is: 'refused'; reason: ShelfRefusal; message: string };

export interface ShelfCase {
  /** As the configuration has it. */
  name: string;
  path: string;
  look: ShelfLook;
  /** All that were seen before. */
  known: readonly KnownShelf[];
  /** A person said that what is there now is the shelf. */
  adopt: boolean;
}

/** Is what lies at a shelf's path the shelf, and is it a place for copies of this volume? */
export function judgeShelf({ name, path, look, known, adopt }: ShelfCase): ShelfVerdict {
  const refuse = (reason: ShelfRefusal, message: string): ShelfVerdict => ({ is: 'refused', reason, message });
  if (look.is === 'absent') return refuse('shelf-absent', `${name} is not there: ${look.why}`);
  const { marker, device, drives, volume } = look;
  if (volume !== null && volume.device === device) {
    return refuse(
      'same-device',
      `${path} is on the working volume itself: a copy there is lost with it. Use another drive.`,
    );
  }
  const shared = drives.find((drive) => volume?.drives.includes(drive));
  if (shared !== undefined) {
    return refuse(
      'same-drive',
      `${path} is on a drive of the working volume (${shared.replace(/^name /, '')}): a copy there is lost with it. Use another drive.`,
    );
  }
  if (marker === 'damaged') {
    return refuse(
      'shelf-damaged',
      `${path}/${MARKER_NAME} cannot be read, so nobody knows which shelf this is. Look whether the drive is well.`,
    );
  }
  const before = known.filter((shelf) => shelf.name === name);
  if (marker === null) return unmarked(look, { name, path, before: before.length > 0, adopt });
  if (before.length > 0 && !before.some(({ id }) => id === marker.id) && !adopt) {
    return refuse(
      'shelf-another',
      `what is mounted at ${path} is the shelf ${marker.name}, not the one that was called ${name} until now. Mount that one, or say that this is it: headroomd backup now ${name} --adopt.`,
    );
  }
  const guard = { root: path, marker: MARKER_NAME, content: marker.content, device };
  return { is: 'ready', id: marker.id, guard, drive: driveOf(drives), look };
}

/** What stays the same over restarts: kernel names do not. */
function driveOf(drives: readonly string[]): string | null {
  return drives.length === 0 || drives.some((drive) => drive.startsWith('name ')) ? null : drives.toSorted().join(' ');
}

/** Right after a drive was mounted for the first time, it is the shelf; a folder on the system's drive may be one whose drive is away. */
function unmarked(
  look: Extract<ShelfLook, { is: 'there' }>,
  { name, path, before, adopt }: { name: string; path: string; before: boolean; adopt: boolean },
): ShelfVerdict {
  if (adopt || (look.isMounted && !before)) return { is: 'new', look };
  const [reason, why] = before
    ? ([
        'shelf-absent',
        `${path} has no marker, and ${name} has one: its drive is not mounted, or it is another drive`,
      ] as const)
    : (['shelf-unmarked', `nothing is mounted at ${path}, and a folder there would fill the drive around it`] as const);
  const message = `${why}. Mount the shelf, or say that this is it: headroomd backup now ${name} --adopt.`;
  return { is: 'refused', reason, message };
}
