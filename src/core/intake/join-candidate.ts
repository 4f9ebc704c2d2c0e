import type { Clip, JoinReason } from '../model.ts';
import type { Ties } from './container/structure.ts';
import { baseName } from './path-text.ts';

/** A clip that may be a part of a take with others of its folder or card. */
export interface JoinCandidate {
  unit: string;
  clip: Pick<Clip, 'name' | 'kind' | 'paths' | 'facts' | 'bytes' | 'essenceBytes'>;
  ties: Ties;
  /** Of its first sound track, samples a second: what `ties.timeReference` counts in. */
  sampleRate: number | null;
}

/** Clips that are one take. */
export interface Join {
  /** Units in playing order; of tracks the picture first, then by name. */
  units: string[];
  how: 'spans' | 'tracks';
  reason: JoinReason;
  /** What is known to belong to it and is not there, by the name that the card has for it. */
  missing: string[];
}

/** One way of proof. */
export type JoinRule = (candidates: readonly JoinCandidate[]) => Join[];

/** The name that programs give to a second copy in the same folder. Common practice, no source. */
const COPY_NAME = /(?: copy(?: \d+)?| ?\(\d+\)|[-_]copy\d*)\.[^.]+$/i;

/** Whether a name is one that somebody's copy got: it carries all that the first carries, and is no part beside it. */
export function isCopyName({ clip }: JoinCandidate): boolean {
  return COPY_NAME.test(baseName(clip.paths[0] ?? clip.name));
}

/** Footage may be joined with footage; proxies, and renders, among themselves. */
export function standingOf({ clip }: JoinCandidate): string {
  return clip.kind === 'sound' ? 'original' : clip.kind;
}

export function isSoundAlone({ clip }: JoinCandidate): boolean {
  return clip.kind === 'sound' || (clip.facts.width === null && (clip.facts.audioTracks ?? 0) > 0);
}

/** Tracks of one take, in order. `null` where two have the same name: then one is the copy of another. */
export function tracksOf(members: readonly JoinCandidate[], reason: JoinReason): Join | null {
  const names = new Set(members.map(({ clip }) => clip.name.toLowerCase()));
  if (members.length < 2 || names.size < members.length) return null;
  const sorted = members.toSorted(
    (a, b) => Number(isSoundAlone(a)) - Number(isSoundAlone(b)) || (a.clip.name < b.clip.name ? -1 : 1),
  );
  return { units: sorted.map(({ unit }) => unit), how: 'tracks', reason, missing: [] };
}
