import { takeOf } from '../intake/take-name.ts';
import { replaceable, takeKey } from '../intake/take-source.ts';
import { recordedTwice } from '../intake/take-twice.ts';
import type { Clip } from '../model.ts';
import type { AngleClip } from './clip-times.ts';
import { isMade } from './footprint.ts';

/** What the clips of one project, looked at together, show besides multicam groups. */
export interface ProjectSigns {
  /**
   * Proxies and renders whose source is not known, or is not here: they cannot be made again as far as anyone can tell, and must
   * have copies like what was recorded.
   */
  unsourced: { clips: number; bytes: number; durationSeconds: number };
  /** Takes that seem to lie here more than once. They count as copies of each other only when a full hash has said so. */
  twice: { takes: number; bytes: number; sameSize: number };
}

/** What of a clip is looked at here. */
export type SignClip = AngleClip & Pick<Clip, 'bytes'>;

export const NO_SIGNS: ProjectSigns = {
  unsourced: { clips: 0, bytes: 0, durationSeconds: 0 },
  twice: { takes: 0, bytes: 0, sameSize: 0 },
};

/** Signs of the clips of one project on one volume, all that are there. */
export function signsOf(clips: readonly SignClip[], place: { volume: string; project: string }): ProjectSigns {
  return { unsourced: unsourcedOf(clips, place.project), twice: twiceOf(clips, place.volume) };
}

function unsourcedOf(clips: readonly SignClip[], project: string): ProjectSigns['unsourced'] {
  const made = clips.filter(({ kind }) => isMade(kind));
  if (made.length === 0) return NO_SIGNS.unsourced;
  // Only what has a sign of being the source is looked at for each: a project may have thousands of both.
  const sources = new Map<string, SignClip[]>();
  for (const clip of clips) {
    if (isMade(clip.kind)) continue;
    for (const key of sourceKeys(clip)) sources.set(key, [...(sources.get(key) ?? []), clip]);
  }
  const total = { clips: 0, bytes: 0, durationSeconds: 0 };
  for (const clip of made) {
    const near = new Set(sourceKeys(clip).flatMap((key) => sources.get(key) ?? []));
    const known = [...near].map((source) => ({ ...source, project }));
    if (replaceable({ ...clip, project }, known).replaceable) continue;
    total.clips += 1;
    total.bytes += clip.bytes;
    total.durationSeconds += clip.facts.durationSeconds ?? 0;
  }
  return total;
}

/** A clip and what was made from it have one of these in common. */
export function sourceKeys({ unit, name, facts: { reel, startTimecode } }: SignClip): string[] {
  const recorded = reel === null || startTimecode === null ? [] : [JSON.stringify(['reel', reel, startTimecode])];
  return [
    JSON.stringify(['take', takeKey(unit)]),
    JSON.stringify(['name', takeOf(name).stem.toLowerCase()]),
    ...recorded,
  ];
}

function twiceOf(clips: readonly SignClip[], volume: string): ProjectSigns['twice'] {
  const byUnit = new Map(clips.map((clip) => [clip.unit, clip]));
  const found = recordedTwice(clips.map((clip) => ({ ...clip, volume })));
  // Of each take the first counts as such, the others as what lies here once more.
  const bytes = found
    .flatMap((take) => take.clips.slice(1))
    .reduce((sum, { unit }) => sum + (byUnit.get(unit)?.bytes ?? 0), 0);
  return { takes: found.length, bytes, sameSize: found.filter(({ sameBytes }) => sameBytes).length };
}
