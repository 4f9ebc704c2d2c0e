import type { Area, Instant } from '../model.ts';

/** How many verified copies on different drives are wanted of what lies on a volume. */
export interface CopiesWanted {
  copies: number;
  /** By the names of those volumes where it is another number. */
  byVolume: Readonly<Record<string, number>>;
}

/** Files that have all their wanted copies, each read back from its medium within the period of re-reading. */
export interface Copied {
  bytes: number;
  /** When the copy among these that was not read for longest was read; `null`: there are none. */
  oldestReadAt: Instant | null;
  /** Names of the shelves on which they lie. */
  shelves: string[];
}

/** Proxies and renders. */
export interface MadeSum {
  clips: number;
  bytes: number;
  durationSeconds: number;
}

/** What was on a volume, is there no longer, and has good copies. Each file counts once, on however many shelves it is. */
export interface OnlyOnShelf {
  files: number;
  bytes: number;
  footageBytes: number;
  /** The smallest number of verified copies on different drives that a file of footage of it has; without footage, that any file has. */
  fewest: number;
  /** When the verified copy that was not read for longest was read; `null`: none is verified. */
  oldestReadAt: Instant | null;
  /** By name; what lies on each. */
  shelves: { name: string; files: number; bytes: number }[];
}

/** The copies of one project, or of an area outside projects, as the ledger knows them. */
export interface ProjectCopies {
  volume: string;
  area: Exclude<Area, 'system'>;
  project: string | null;
  /** The smallest number of verified copies on different drives that a file of footage here has; `null`: no footage is here. */
  fewest: number | null;
  /** Of footage, in the trash as well; of proxies and renders; and of all else that is copied. */
  footage: Copied;
  made: Copied;
  other: Copied;
  /** Proxies and renders without all their copies; and of those the ones whose source is not known, as far as that was searched. */
  madeLacking: { all: MadeSum; unsourced: MadeSum };
  /** Bytes of proxies and renders whose source is not known, and that have their copies, read within the period. */
  unsourcedBytes: number;
  /** What is left on shelves alone; `null`: nothing is. */
  onlyOnShelf: OnlyOnShelf | null;
}

export const NOTHING_COPIED: Copied = { bytes: 0, oldestReadAt: null, shelves: [] };
export const NONE_MADE: MadeSum = { clips: 0, bytes: 0, durationSeconds: 0 };

/** A place of which nothing has copies. */
export function noCopies({ volume, area, project }: Pick<ProjectCopies, 'volume' | 'area' | 'project'>): ProjectCopies {
  return {
    ...{ volume, area, project, fewest: null, onlyOnShelf: null, unsourcedBytes: 0 },
    ...{ footage: NOTHING_COPIED, made: NOTHING_COPIED, other: NOTHING_COPIED },
    madeLacking: { all: NONE_MADE, unsourced: NONE_MADE },
  };
}
