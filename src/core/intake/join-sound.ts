import { isSoundAlone, type Join, type JoinCandidate, tracksOf } from './join-candidate.ts';
import { chainsOf, type Link } from './join-chain.ts';

/** Two recordings of one length may differ by what a header rounds, in seconds. */
const SAME_LENGTH = 0.001;

/** Files that the recorder's notes name as recorded at once (iXML FAMILY_UID), beginning and ending together. */
export function soundFamilies(candidates: readonly JoinCandidate[]): Join[] {
  const familiar = candidates.filter((each) => isSoundAlone(each) && each.ties.family !== null);
  const families = Map.groupBy(familiar, ({ ties }) => JSON.stringify([ties.family, ties.timeReference]));
  return [...families.values()].flatMap((members) => {
    const agree = hasOne(members, ({ ties }) => ties.scene) && hasOne(members, ({ ties }) => ties.take);
    return agree && haveOneLength(members, true) ? (tracksOf(members, 'one-sound-family') ?? []) : [];
  });
}

/** The same scene and take, begun on the same sample and of the same length; no family that says otherwise. */
export function soundTakes(candidates: readonly JoinCandidate[]): Join[] {
  const noted = candidates.filter((each) => isSoundAlone(each) && isNoted(each));
  const takes = Map.groupBy(noted, ({ ties }) => JSON.stringify([ties.scene, ties.take, ties.timeReference]));
  return [...takes.values()].flatMap((members) => {
    const agree = hasOne(members, ({ ties }) => ties.family);
    return agree && haveOneLength(members, false) ? (tracksOf(members, 'one-sound-take') ?? []) : [];
  });
}

/**
 * One recording in several files: the same scene and take, or family, and each begins on the sample after the last of the
 * one before. Two that could be next are both left.
 */
export function soundSpans(candidates: readonly JoinCandidate[]): Join[] {
  const noted = candidates.filter((each) => isSoundAlone(each) && (isNoted(each) || each.ties.family !== null));
  const takes = Map.groupBy(noted, ({ ties }) => JSON.stringify([ties.family, ties.scene, ties.take]));
  return [...takes.values()].flatMap((members) => {
    const links = members.flatMap((one) => members.filter((other) => goesOn(one, other)).map(linkTo(one)));
    return chainsOf(links).map((units): Join => ({ units, how: 'spans', reason: 'sound-goes-on', missing: [] }));
  });
}

function linkTo({ unit }: JoinCandidate): (other: JoinCandidate) => Link {
  return (other) => [unit, other.unit];
}

function goesOn(one: JoinCandidate, other: JoinCandidate): boolean {
  const [from, to] = [one.ties.timeReference, other.ties.timeReference];
  const { codec, audioChannels, durationSeconds } = one.clip.facts;
  const rate = one.sampleRate;
  if (from === null || to === null || durationSeconds === null || rate === null || rate !== other.sampleRate)
    return false;
  const alike = codec === other.clip.facts.codec && audioChannels === other.clip.facts.audioChannels;
  // The length is rounded to a sample, or to the millisecond.
  const tolerance = Math.max(1, rate * SAME_LENGTH);
  return alike && Math.abs(to - from - durationSeconds * rate) <= tolerance;
}

function isNoted({ ties }: JoinCandidate): boolean {
  return ties.scene !== null && ties.take !== null && ties.timeReference !== null;
}

/** Whether nothing that is told differs. */
function hasOne(members: readonly JoinCandidate[], told: (one: JoinCandidate) => string | null): boolean {
  return new Set(members.map(told).filter((text) => text !== null)).size <= 1;
}

function haveOneLength(members: readonly JoinCandidate[], mayBeUnknown: boolean): boolean {
  const lengths = members.map(({ clip }) => clip.facts.durationSeconds);
  const known = lengths.filter((length) => length !== null);
  if (known.length < lengths.length && !mayBeUnknown) return false;
  return known.length === 0 || Math.max(...known) - Math.min(...known) <= SAME_LENGTH;
}
