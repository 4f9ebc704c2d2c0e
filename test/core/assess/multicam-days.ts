import type { AngleClip } from '../../../src/core/assess/clip-times.ts';
import { NO_FACTS } from '../../../src/core/intake/clip.ts';
import { generator } from './noisy-day.ts';

/*
 * Shoots as they happen, and what the files tell of them under each discipline of timecode and clocks. Invented: five cameras, scenes
 * that two to five of them roll on together and start and stop within a few seconds of each other, and clips of one camera alone
 * between them. Which clips truly ran together is known.
 */

export const CONDITIONS = [
  'jam-synced',
  'free-run on own clocks',
  'record-run',
  'no timecode',
  'past midnight',
  'several days',
  'clocks minutes apart',
  'copied times, record-run',
  'kept times, record-run',
] as const;
export type Condition = (typeof CONDITIONS)[number];

export interface Shoot {
  clips: AngleClip[];
  /** Two units each, in order of name, joined with a space: clips of two cameras that ran together for two seconds or more. */
  pairs: Set<string>;
}

interface Take {
  camera: number;
  /** Seconds since 1970, by the sun. */
  start: number;
  end: number;
}

const CAMERAS = ['A', 'B', 'C', 'D', 'E'];
/** 2027-03-04T08:00:00Z */
const MORNING = 1_804_147_200;
const DAY = 86_400;

/** One shoot under a condition; the same seed gives the same. */
export function shootUnder(condition: Condition, seed: number, days = condition === 'several days' ? 4 : 1): Shoot {
  const random = generator(seed);
  const begin = condition === 'past midnight' ? MORNING + 14 * 3600 : MORNING;
  const takes = Array.from({ length: days }, (_, day) => dayOf(begin + day * DAY, random)).flat();
  const clocks = CAMERAS.map(() => clockError(condition, random));
  const counters = CAMERAS.map(() => 3600);
  const clips = takes
    .toSorted((one, other) => one.start - other.start)
    .map((take, index) => {
      const counter = counters[take.camera] ?? 0;
      counters[take.camera] = counter + take.end - take.start;
      return clipOf(take, index, { condition, error: clocks[take.camera] ?? 0, counter });
    });
  const sorted = takes.toSorted((one, other) => one.start - other.start);
  return { clips, pairs: truePairs(sorted, clips) };
}

function dayOf(begin: number, random: () => number): Take[] {
  const takes: Take[] = [];
  let at = begin + random() * 60;
  for (let scene = 0; scene < 24; scene++) {
    const together = random() < 0.75 ? 2 + Math.floor(random() * 4) : 1;
    const length = 20 + random() * 400;
    const cameras = CAMERAS.map((_, index) => index)
      .toSorted(() => random() - 0.5)
      .slice(0, together);
    for (const camera of cameras) {
      takes.push({ camera, start: at + random() * 3, end: at + length + random() * 3 });
    }
    at += length + 30 + random() * 300;
  }
  return takes;
}

/** How far a camera's clock is wrong, seconds. */
function clockError(condition: Condition, random: () => number): number {
  const spread = { 'free-run on own clocks': 1200, 'clocks minutes apart': 900 }[condition as string] ?? 2;
  return Math.round((random() - 0.5) * 2 * spread);
}

interface Told {
  condition: Condition;
  error: number;
  counter: number;
}

function clipOf(take: Take, index: number, { condition, error, counter }: Told): AngleClip {
  const letter = CAMERAS[take.camera] ?? 'A';
  const durationSeconds = Math.round((take.end - take.start) * 25) / 25;
  const byClock = take.start + error;
  const isJammed = ['jam-synced', 'past midnight', 'several days'].includes(condition);
  const timecode = isJammed ? take.start + 3600 : condition === 'free-run on own clocks' ? byClock + 3600 : counter;
  const hasTimes = !condition.includes('times');
  const written = Math.round((byClock + durationSeconds) * 1000);
  // A card is copied in the evening at some 300 MB/s: a plain copy makes every file's time the moment it was through.
  const copied = (MORNING + 12 * 3600 + index * 7) * 1000;
  return {
    unit: `Tidewater Sessions/${letter}001C${String(index).padStart(4, '0')}.mov`,
    kind: 'original',
    name: `${letter}001C${String(index).padStart(4, '0')}.mov`,
    paths: [`Tidewater Sessions/${letter}001C${String(index).padStart(4, '0')}.mov`],
    essenceBytes: Math.round(durationSeconds * 50e6),
    facts: {
      ...NO_FACTS,
      ...{ codec: 'ProRes 422', width: 1920, height: 1080, frameRate: { num: 25, den: 1 }, durationSeconds },
      startTimecode: condition === 'no timecode' ? null : label(timecode),
      reel: `${letter}001`,
      recordedAt: hasTimes ? new Date(Math.round(byClock) * 1000).toISOString() : null,
      recordedAtBasis: hasTimes ? 'container' : null,
    },
    fileTimes: hasTimes
      ? null
      : condition.startsWith('copied')
        ? { writtenAt: copied, firstSeenAt: copied - 3000 }
        : { writtenAt: written, firstSeenAt: copied },
    readyAt: copied,
  };
}

function truePairs(takes: readonly Take[], clips: readonly AngleClip[]): Set<string> {
  const pairs = new Set<string>();
  for (const [index, one] of takes.entries()) {
    for (let next = index + 1; next < takes.length; next++) {
      const other = takes[next];
      if (other === undefined || other.start >= one.end) break;
      if (other.camera !== one.camera && Math.min(one.end, other.end) - other.start >= 2) {
        pairs.add(pairOf(clips[index]?.unit ?? '', clips[next]?.unit ?? ''));
      }
    }
  }
  return pairs;
}

function pairOf(one: string, other: string): string {
  return one < other ? `${one} ${other}` : `${other} ${one}`;
}

/** Clips of two cameras whose stretches share two seconds or more. */
export function pairsAmong(
  spans: readonly { unit: string; camera: string | null; startSeconds: number; endSeconds: number }[],
): Set<string> {
  const pairs = new Set<string>();
  const sorted = spans.toSorted((one, other) => one.startSeconds - other.startSeconds);
  for (const [index, one] of sorted.entries()) {
    for (let next = index + 1; next < sorted.length; next++) {
      const other = sorted[next];
      if (other === undefined || other.startSeconds >= one.endSeconds) break;
      const shared = Math.min(one.endSeconds, other.endSeconds) - other.startSeconds;
      if (other.camera !== one.camera && shared >= 2) pairs.add(pairOf(one.unit, other.unit));
    }
  }
  return pairs;
}

/** The timecode alone, as it stands in the files: seconds of a day. */
export function bareTimecode(clips: readonly AngleClip[]) {
  return clips.flatMap(({ unit, facts: { reel, startTimecode, durationSeconds } }) => {
    if (startTimecode === null) return [];
    const [hours = 0, minutes = 0, seconds = 0, frames = 0] = startTimecode.split(':').map(Number);
    const startSeconds = hours * 3600 + minutes * 60 + seconds + frames / 25;
    return [{ unit, camera: reel, startSeconds, endSeconds: startSeconds + (durationSeconds ?? 0) }];
  });
}

/** `HH:MM:SS:FF` at 25 frames per second. */
function label(seconds: number): string {
  const frames = Math.round((((seconds % DAY) + DAY) % DAY) * 25);
  const parts = [
    Math.floor(frames / 90_000) % 24,
    Math.floor(frames / 1500) % 60,
    Math.floor(frames / 25) % 60,
    frames % 25,
  ];
  return parts.map((part) => String(part).padStart(2, '0')).join(':');
}
