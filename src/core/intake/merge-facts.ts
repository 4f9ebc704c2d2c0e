import type { ClipFacts, Ratio } from '../model.ts';
import { bitRate } from './bit-rate.ts';
import { NO_FACTS } from './clip.ts';
import type { Disagreement, FactName, FactSources, KnownFacts } from './fact-sources.ts';

/** What one of the two tells. */
type Told = Partial<ClipFacts>;

/** Facts that need a library of codecs: the structure only has a code for what is inside. Of all others the structure is exact. */
const READERS: ReadonlySet<FactName> = new Set(['container', 'codec', 'profile', 'scan', 'chroma', 'bitDepth']);

/** Worked out here from what both told; what the reader has of them are the header's promises. */
const DERIVED: ReadonlySet<FactName> = new Set(['videoBitrate', 'overallBitrate']);

/** Follow another fact: a difference is told once. */
const FOLLOWING: ReadonlySet<FactName> = new Set(['dropFrame', 'recordedAtBasis', 'variableRate']);

/** Two sums of bytes that are this near are one: padding between frames counts for one and not for the other. */
const SAME_BYTES = 0.005;
/** A rate told in thousandths, beside an exact one. */
const SAME_RATE = 1e-4;
/** Durations are told in milliseconds. */
const SAME_SECONDS = 0.002;

/**
 * One set of facts of what the structure and the media reader tell of a file of `sizeBytes`; `null` for one that told nothing.
 * What both tell differently is kept beside the facts, never averaged. Rates are bytes over seconds.
 */
export function mergeFacts(
  structure: Told | null,
  reader: Told | null,
  sizeBytes: number,
): Pick<KnownFacts, 'facts' | 'sources' | 'disagreements'> {
  const facts: Record<string, unknown> = { ...NO_FACTS };
  const sources: FactSources = {};
  const disagreements: Disagreement[] = [];
  for (const fact of Object.keys(NO_FACTS) as FactName[]) {
    if (DERIVED.has(fact)) continue;
    const [ours, theirs] = [structure?.[fact] ?? null, reader?.[fact] ?? null];
    if (ours === null && theirs === null) continue;
    const agreed = ours !== null && theirs !== null && areSame(fact, structure ?? {}, reader ?? {});
    const readerCounts = ours === null || (theirs !== null && READERS.has(fact));
    facts[fact] = readerCounts ? theirs : ours;
    sources[fact] = agreed ? 'both' : readerCounts ? 'reader' : 'structure';
    if (!agreed && ours !== null && theirs !== null && !FOLLOWING.has(fact)) {
      disagreements.push({ fact, structure: inWords(ours), reader: inWords(theirs) });
    }
  }
  const merged = facts as unknown as ClipFacts;
  return { facts: withRates(merged, sources, sizeBytes), sources, disagreements };
}

function withRates(facts: ClipFacts, sources: FactSources, sizeBytes: number): ClipFacts {
  const { durationSeconds, videoBytes } = facts;
  const rates = {
    videoBitrate: bitRate(videoBytes, durationSeconds),
    overallBitrate: bitRate(sizeBytes, durationSeconds),
  };
  if (rates.videoBitrate !== null) sources.videoBitrate = 'derived';
  if (rates.overallBitrate !== null) sources.overallBitrate = 'derived';
  return { ...facts, ...rates };
}

function areSame(fact: FactName, ours: Told, theirs: Told): boolean {
  const [a, b] = [ours[fact], theirs[fact]];
  switch (fact) {
    case 'frameRate':
      // Of a rate that varies one tells what most frames have, the other the mean.
      if (ours.variableRate === true && theirs.variableRate === true) return true;
      return isNear(perSecond(a as Ratio), perSecond(b as Ratio), SAME_RATE);
    case 'durationSeconds':
      return Math.abs(Number(a) - Number(b)) <= Math.max(SAME_SECONDS, oneFrame(ours.frameRate ?? null));
    case 'videoBytes':
      return isNear(Number(a), Number(b), SAME_BYTES);
    case 'codec':
      return isSameCodec(String(a), String(b));
    case 'recordedAt':
      return secondsOf(String(a)) === secondsOf(String(b));
    default:
      return a === b;
  }
}

/** A container may know the family alone: `DNxHR` where the stream says `DNxHR HQX`. */
function isSameCodec(ours: string, theirs: string): boolean {
  return theirs === ours || theirs.startsWith(`${ours} `);
}

/** To the second, without zone where one of them has none. */
function secondsOf(instant: string): string {
  return instant.slice(0, 19);
}

function oneFrame(rate: Ratio | null): number {
  return rate === null ? 0 : rate.den / rate.num;
}

function perSecond({ num, den }: Ratio): number {
  return num / den;
}

function isNear(a: number, b: number, share: number): boolean {
  return Math.abs(a - b) <= share * Math.max(Math.abs(a), Math.abs(b));
}

function inWords(value: unknown): string {
  if (typeof value === 'object' && value !== null && 'num' in value) {
    const { num, den } = value as Ratio;
    return den === 1 ? `${num}` : `${num}/${den}`;
  }
  return String(value);
}
