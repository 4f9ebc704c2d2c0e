import { type MadeSum, NONE_MADE, type ProjectCopies } from '../backup/project-copies.ts';
import type { ProjectSum } from '../store-ports.ts';
import type { ProjectSigns } from './project-signs.ts';

/** Proxies and renders of a project. */
export interface MadeAssessment {
  bytes: number;
  /** Of these bytes, of what could be made again: its source is known and is here. They are left out of exposure. */
  replaceableBytes: number;
  /** Those whose source is not known, or not here: they must have copies like what was recorded. */
  unsourced: ProjectSigns['unsourced'];
  /** Of those the ones without all their copies: they count as exposed. */
  lacking: MadeSum;
}

/**
 * What of the proxies and renders could be made again. `signs`: what the project's clips show; `null` where they were not
 * searched yet, and outside of projects, where nothing is looked for: then nothing is known to be, and all of it counts as
 * what must have copies. `copies`: which have them; `null`: not known, and none counts. Nothing in the trash counts: its owner gave it up.
 */
export function assessMade(
  { area, made }: Pick<ProjectSum, 'area' | 'made'>,
  signs: ProjectSigns | null,
  copies: Pick<ProjectCopies, 'madeLacking'> | null,
): MadeAssessment {
  if (area === 'trash') {
    return { bytes: made.bytes, replaceableBytes: made.bytes, unsourced: NONE_MADE, lacking: NONE_MADE };
  }
  const unsourced = signs?.unsourced ?? made;
  const lacking = signs === null ? copies?.madeLacking.all : copies?.madeLacking.unsourced;
  return {
    bytes: made.bytes,
    replaceableBytes: Math.max(0, made.bytes - unsourced.bytes),
    ...{ unsourced, lacking: lacking ?? unsourced },
  };
}

/** The sum with what cannot be made again, and lacks copies, among the exposed. */
export function withLackingMade(sum: ProjectSum, { lacking }: MadeAssessment): ProjectSum {
  if (sum.exposed === null || lacking.bytes + lacking.clips === 0) return sum;
  const { bytes, clips, durationSeconds, since } = sum.exposed;
  return {
    ...sum,
    exposed: {
      bytes: bytes + lacking.bytes,
      clips: clips + lacking.clips,
      durationSeconds: durationSeconds + lacking.durationSeconds,
      since,
    },
  };
}
