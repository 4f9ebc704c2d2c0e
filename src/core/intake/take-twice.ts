import type { Clip, ClipFacts } from '../model.ts';
import { dirName } from './path-text.ts';

export type RecordedClip = Pick<Clip, 'volume' | 'unit' | 'kind' | 'name' | 'paths' | 'essenceBytes'> & {
  facts: RecordedFacts;
};

type RecordedFacts = Pick<ClipFacts, 'durationSeconds' | 'frameRate' | 'startTimecode' | 'codec' | 'width'>;

/** Clips that may be one take, recorded on two cards at once or copied twice. */
export interface TwiceRecorded {
  clips: { volume: string; unit: string }[];
  /** Their essence has one size, so that a full hash may show that they are copies; else they are no copies. */
  sameBytes: boolean;
}

/**
 * Cameras with two slots write a take to both, under the same name in the folders of two cards. Candidates are clips of the
 * same name, start timecode and length to the frame in different folders. They are candidates only: copies of each other
 * they are when a full hash says so. What has no timecode is none, for cameras name their clips alike every day.
 */
export function recordedTwice(clips: readonly RecordedClip[]): TwiceRecorded[] {
  const sorted = clips.toSorted(
    (a, b) => (a.facts.durationSeconds ?? 0) - (b.facts.durationSeconds ?? 0) || (placeOf(a) < placeOf(b) ? -1 : 1),
  );
  const alike = Map.groupBy(sorted, twiceKey);
  alike.delete(null);
  return [...alike.values()].flatMap(byLength).filter(areApart).map(tell);
}

/** Clips with another one of these are never one take; `null`: the clip cannot be told to be any other. */
export function twiceKey({ name, kind, facts }: Omit<RecordedClip, 'volume'>): string | null {
  if (kind !== 'original' && kind !== 'sound') return null;
  if (facts.startTimecode === null || facts.durationSeconds === null) return null;
  return JSON.stringify([name.toLowerCase(), kind, facts.startTimecode, facts.frameRate, facts.codec, facts.width]);
}

/** Splits clips sorted by length where the next is longer than the first by more than a frame. */
function byLength(sorted: readonly RecordedClip[]): RecordedClip[][] {
  const sets: RecordedClip[][] = [];
  for (const clip of sorted) {
    const set = sets.at(-1);
    const [first] = set ?? [];
    if (set !== undefined && first !== undefined && isAsLong(first.facts, clip.facts)) set.push(clip);
    else sets.push([clip]);
  }
  return sets;
}

function isAsLong(one: RecordedFacts, other: RecordedFacts): boolean {
  const oneFrame = one.frameRate === null ? 0.01 : one.frameRate.den / one.frameRate.num;
  return Math.abs((other.durationSeconds ?? 0) - (one.durationSeconds ?? 0)) <= oneFrame;
}

function areApart(clips: readonly RecordedClip[]): boolean {
  return clips.length > 1 && new Set(clips.map(({ volume, paths }) => `${volume}/${dirName(paths[0] ?? '')}`)).size > 1;
}

function tell(clips: readonly RecordedClip[]): TwiceRecorded {
  const places = clips.toSorted((a, b) => (placeOf(a) < placeOf(b) ? -1 : 1));
  return {
    clips: places.map(({ volume, unit }) => ({ volume, unit })),
    sameBytes: new Set(clips.map(({ essenceBytes }) => essenceBytes)).size === 1,
  };
}

function placeOf({ volume, unit }: RecordedClip): string {
  return `${volume}\0${unit}`;
}
