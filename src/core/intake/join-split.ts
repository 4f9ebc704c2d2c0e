import type { ClipFacts } from '../model.ts';
import { type Join, type JoinCandidate, standingOf } from './join-candidate.ts';
import { chainsOf, type Link } from './join-chain.ts';
import { baseName, dirName } from './path-text.ts';
import { parseTimecode, toFrameNumber } from './timecode.ts';

/** Sizes in GB at which media (FAT32) and cameras begin a new file. Common practice, no source. */
const SPLIT_GB = [2, 4, 12, 16];
/** A file ends with a whole group of pictures before the limit. Common practice, no source. */
const NEAR_SPLIT = 0.03;
/** Recording times are whole seconds, and files are closed some seconds late. */
const CLOCK_SECONDS = 5;

/** More digits would not fit a number exactly. */
const NUMBERED = /^(.*?(?<!\d))(\d{1,15})(\D*\.[^.]+)$/s;

interface Numbered {
  candidate: JoinCandidate;
  /** Same for all files that count on from each other. */
  series: string;
  number: number;
}

/**
 * Chapters without a playlist. A clip goes on in the next file when ALL hold: consecutive numbers in one folder; the next
 * starts within one frame of where this one ends; same codec, raster, rate, reel and camera; this one is near a size at which
 * files are split; recording times do not speak against it. Timecode that runs only while recording is gapless from clip to
 * clip as well, so the size is no less needed than the time.
 */
export function gaplessSplits(candidates: readonly JoinCandidate[]): Join[] {
  const numbered = candidates.flatMap(numberOf);
  const places = Map.groupBy(numbered, ({ series, number }) => keyOf(series, number));
  const links = numbered.flatMap(({ candidate, series, number }): Link[] => {
    const [after, another] = places.get(keyOf(series, number + 1)) ?? [];
    if (after === undefined || another !== undefined) return [];
    return goesOn(candidate, after.candidate) ? [[candidate.unit, after.candidate.unit]] : [];
  });
  return chainsOf(links).map((units) => ({ units, how: 'spans', reason: 'gapless-split', missing: [] }));
}

function numberOf(candidate: JoinCandidate): Numbered[] {
  const [path = ''] = candidate.clip.paths;
  const match = NUMBERED.exec(baseName(path));
  if (match === null) return [];
  const [, prefix = '', digits = '', suffix = ''] = match;
  const series = JSON.stringify([dirName(path), prefix.toLowerCase(), digits.length, suffix.toLowerCase()]);
  return [{ candidate, series, number: Number(digits) }];
}

function keyOf(series: string, number: number): string {
  return `${series}${number}`;
}

function goesOn(one: JoinCandidate, other: JoinCandidate): boolean {
  const [facts, next] = [one.clip.facts, other.clip.facts];
  if (standingOf(one) !== standingOf(other) || !isSplitSize(one.clip.essenceBytes) || !areAlike(facts, next))
    return false;
  return followsInTime(facts, next) && !clocksSpeakAgainst(facts, next);
}

export function isSplitSize(bytes: number): boolean {
  const sizes = SPLIT_GB.flatMap((gb) => [gb * 1e9, gb * 2 ** 30]);
  return sizes.some((size) => Math.abs(bytes - size) <= size * NEAR_SPLIT);
}

function areAlike(one: ClipFacts, other: ClipFacts): boolean {
  const told = ({
    codec,
    profile,
    width,
    height,
    frameRate,
    scan,
    reel,
    camera,
    audioTracks,
    audioChannels,
  }: ClipFacts) =>
    JSON.stringify([codec, profile, width, height, frameRate, scan, reel, camera, audioTracks, audioChannels]);
  return one.codec !== null && one.width !== null && told(one) === told(other);
}

/** The next starts within one frame of where this ends, over midnight as well. */
function followsInTime(one: ClipFacts, other: ClipFacts): boolean {
  const rate = one.frameRate;
  if (rate === null || one.variableRate === true || other.variableRate === true) return false;
  const [from, to] = [one.startTimecode, other.startTimecode].map((text) => parseTimecode(text ?? ''));
  if (!from || !to || from.drop !== to.drop) return false;
  const [start, next] = [from, to].map((timecode) => toFrameNumber(timecode, rate));
  const hour = toFrameNumber({ hours: 1, minutes: 0, seconds: 0, frames: 0, drop: from.drop }, rate);
  const length = one.frames ?? (one.durationSeconds === null ? null : (one.durationSeconds * rate.num) / rate.den);
  if (start == null || next == null || hour === null || length === null) return false;
  const day = 24 * hour;
  const gap = (((next - start - length) % day) + day) % day;
  return Math.min(gap, day - gap) <= 1;
}

/** Files of one recording carry when it began, or when each of them began or ended: any other distance is a pause. */
function clocksSpeakAgainst(one: ClipFacts, other: ClipFacts): boolean {
  if (one.recordedAt === null || other.recordedAt === null || one.recordedAtBasis !== 'container') return false;
  const [from, to] = [one.recordedAt, other.recordedAt].map(secondsOf);
  if (from == null || to == null) return false;
  const apart = [0, one.durationSeconds ?? 0, other.durationSeconds ?? 0];
  return !apart.some((seconds) => Math.abs(to - from - seconds) <= CLOCK_SECONDS);
}

/** Seconds of an ISO 8601 time; both of a pair come from one camera, so a missing zone is the same in both. */
function secondsOf(told: string): number | null {
  const hasZone = /(?:Z|[+-]\d{2}:\d{2})$/.test(told);
  if (!told.includes('T')) return null;
  try {
    return Temporal.Instant.from(hasZone ? told : `${told}Z`).epochMilliseconds / 1000;
  } catch {
    return null;
  }
}
