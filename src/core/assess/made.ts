import type { ProjectSum } from '../store-ports.ts';
import type { ProjectSigns } from './project-signs.ts';

/** Proxies and renders of a project. */
export interface MadeAssessment {
  bytes: number;
  /** Of these bytes, of what could be made again: its source is known and is here. They are left out of exposure. */
  replaceableBytes: number;
  /** Those whose source is not known, or not here: they count as exposed. */
  unsourced: ProjectSigns['unsourced'];
}

/**
 * What of the proxies and renders could be made again. `signs`: what the project's clips show; `null` where they were not
 * searched yet, and outside of projects, where nothing is looked for: then nothing is known to be, and all of it counts as
 * what must have copies. Nothing in the trash counts: its owner gave it up.
 */
export function assessMade(
  { area, made }: Pick<ProjectSum, 'area' | 'made'>,
  signs: ProjectSigns | null,
): MadeAssessment {
  if (area === 'trash') return { bytes: made.bytes, replaceableBytes: made.bytes, unsourced: NONE };
  const unsourced = signs?.unsourced ?? made;
  return { bytes: made.bytes, replaceableBytes: Math.max(0, made.bytes - unsourced.bytes), unsourced };
}

const NONE = { clips: 0, bytes: 0, durationSeconds: 0 };

/** The sum with what cannot be made again among the exposed: verified copies of it are not counted yet. */
export function withUnsourced(sum: ProjectSum, { unsourced }: MadeAssessment): ProjectSum {
  if (sum.exposed === null || unsourced.bytes + unsourced.clips === 0) return sum;
  const { bytes, clips, durationSeconds, since } = sum.exposed;
  return {
    ...sum,
    exposed: {
      bytes: bytes + unsourced.bytes,
      clips: clips + unsourced.clips,
      durationSeconds: durationSeconds + unsourced.durationSeconds,
      since,
    },
  };
}
