import type { Instant, PathText } from '../model.ts';
import type { ShelfGuard } from './copy-port.ts';
import type { Sums } from './sums.ts';

/** What a shelf is known by, wherever it is mounted: a file in its root. */
export interface ShelfMarker {
  id: string;
  name: string;
}

/** What was seen at a shelf's path. */
export type ShelfLook =
  /** `why` in a sentence. */
  | { is: 'absent'; why: string }
  | {
      is: 'there';
      /** `null`: there is none; `damaged`: a file of that name that says nothing. */
      marker: (ShelfMarker & { content: string }) | 'damaged' | null;
      /** Of the root. */
      device: bigint;
      /** Is something mounted exactly here? Else it is a folder of the file system around it. */
      isMounted: boolean;
      /** Nothing can be written to it. */
      readOnly: boolean;
      fileSystem: string | null;
      totalBytes: number;
      freeBytes: number;
      /** Whole drives below it, by what stays the same over restarts; empty: not told. */
      drives: readonly string[];
      /** Of the working volume that was asked about beside it; `null`: it could not be looked at. */
      volume: { device: bigint; drives: readonly string[] } | null;
    };

/** Looks at shelves and moves what is ours on them, each time in a process of its own. Never rejects. */
export interface ShelfPort {
  /** `volume`: root of the working volume it is to hold copies of. */
  look(path: string, volume: string): Promise<ShelfLook>;
  /** Writes a marker where there is none. In a sentence why that could not be; `null`: it is there. */
  mark(path: string, marker: ShelfMarker): Promise<string | null>;
  /** Gives a file on a shelf another place there, where nothing is. `missing`: it was not there; else a sentence why it could not be. */
  setAside(guard: ShelfGuard, from: PathText, to: PathText): Promise<'moved' | 'missing' | { trouble: string }>;
  /** Adds files to the media hash list of a folder, as its next generation. In a sentence why that could not be; `null`: it is done. */
  list(guard: ShelfGuard, list: ShelfList): Promise<string | null>;
}

/** Files that are to stand in the list of a folder on a shelf. */
export interface ShelfList {
  /** The folder, below the shelf's root. */
  top: PathText;
  startedAt: Instant;
  /** Of this program. */
  toolVersion: string;
  files: readonly ListedCopy[];
}

/** A copy; its path is below the folder whose list it comes into. */
export interface ListedCopy {
  path: PathText;
  size: number;
  mtimeNs: bigint;
  /** By format; one at least. */
  values: Sums;
  hashedAt: Instant;
}

/** The file in a shelf's root. */
export const MARKER_NAME = '.headroomd-shelf.json';

/** What is written into it. */
export function markerContent({ id, name }: ShelfMarker): string {
  return `${JSON.stringify({ headroomd: 'shelf', id, name })}\n`;
}

/** What a marker's content says; `null`: it is none of ours. */
export function readMarker(content: string): ShelfMarker | null {
  try {
    const { headroomd, id, name } = Object(JSON.parse(content)) as Record<string, unknown>;
    return headroomd === 'shelf' && typeof id === 'string' && id !== '' && typeof name === 'string'
      ? { id, name }
      : null;
  } catch {
    return null;
  }
}
