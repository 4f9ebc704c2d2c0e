import type { RawProbe } from '../root-port.ts';

/** Reading the probe library's answer: everything in it is text, may be missing, and may be told twice. */

export type RawTrack = RawProbe['tracks'][number];
export type TrackType = 'General' | 'Video' | 'Audio' | 'Image' | 'Other';

export function tracksOf(raw: Pick<RawProbe, 'tracks'>, type: TrackType): RawTrack[] {
  return raw.tracks.filter((track) => track['@type'] === type);
}

/**
 * Text of a field, or `null`. The library parses some files twice and then tells a value as `A / A`; that is one value.
 * Different values stay together as they are.
 */
export function text(track: RawTrack | undefined, field: string): string | null {
  const value = track?.[field];
  if (typeof value !== 'string') return null;
  const [first = '', ...others] = value.split(' / ');
  const told = others.every((other) => other === first) ? first.trim() : value.trim();
  return told === '' ? null : told;
}

/** A field as a number: `null` when missing, negative, no number, or told twice with different values. */
export function number(track: RawTrack | undefined, field: string): number | null {
  const told = text(track, field);
  const value = told === null ? Number.NaN : Number(told);
  return Number.isFinite(value) && value >= 0 ? value : null;
}

/** A number above zero: a size, a count or a rate of zero means that the library did not find it. */
export function positive(track: RawTrack | undefined, field: string): number | null {
  const value = number(track, field);
  return value === null || value === 0 ? null : value;
}

/** What the library found but has no field of its own for. */
export function extra(track: RawTrack | undefined): RawTrack | undefined {
  const value = track?.['extra'];
  return typeof value === 'object' && value !== null ? (value as RawTrack) : undefined;
}

/** Sum of a field over tracks; `null` as soon as one of them does not have it. */
export function sum(tracks: readonly RawTrack[], field: string): number | null {
  let total = 0;
  for (const track of tracks) {
    const value = number(track, field);
    if (value === null) return null;
    total += value;
  }
  return total;
}
