import type { PathText } from '../model.ts';

/** What the clips of one project, looked at together, show besides multicam groups. */
export interface ProjectSigns {
  /**
   * Proxies and renders whose source is not known, or is not here: they cannot be made again as far as anyone can tell, and must
   * have copies like what was recorded.
   */
  unsourced: { clips: number; bytes: number; durationSeconds: number };
  /** Takes that seem to lie here more than once. They count as copies of each other only when a full hash has said so. */
  twice: { takes: number; bytes: number; sameSize: number; some: readonly TwiceTake[] };
}

/** A take that seems to lie here more than once, and where. */
export interface TwiceTake {
  name: string;
  /** All have one size, so that they may be copies of each other. */
  sameSize: boolean;
  places: { path: PathText; bytes: number }[];
}

export const NO_SIGNS: ProjectSigns = {
  unsourced: { clips: 0, bytes: 0, durationSeconds: 0 },
  twice: { takes: 0, bytes: 0, sameSize: 0, some: [] },
};

/** Where the clips lie. */
export interface ProjectPlace {
  volume: string;
  project: string;
}
