import { type Figure, median } from '../figure.ts';
import { namesFor } from './clips.ts';
import { costOf, ffprobeEach, mediainfoBatch } from './cost.ts';
import type { Ground } from './ground.ts';
import { checkFacts, lookAt } from './look-at.ts';

const ROUNDS = 5;
/** Names for each clip in one round of the other side that reads many files in one process. */
const NAMES = 10;
/** Times that ours goes over all names in one round: once is over too soon to be measured. */
const PASSES = 5;
const TIMES_MEDIAINFO = 25;
const TIMES_FFPROBE = 200;

/** Clips per second of CPU whose headline facts are known, QuickTime and MP4 apart from MXF. The sides take turns. */
export async function measureHeadline(ground: Ground): Promise<Figure[]> {
  const { movies, mxf } = ground.clips();
  for (const clip of [...movies, ...mxf]) checkFacts(clip);
  return [
    ...(await oneKind('QuickTime and MP4', movies, ground.place('movies'))),
    ...(await oneKind('MXF', mxf, ground.place('mxf'))),
  ];
}

interface Round {
  /** Clips per second of CPU. */
  ours: number;
  mediainfo: number;
  ffprobe: number;
  /** The same by the clock on the wall. */
  wall: { ours: number; mediainfo: number };
}

async function oneKind(kind: string, clips: readonly string[], folder: string): Promise<Figure[]> {
  const names = namesFor(clips, NAMES, folder);
  const rounds: Round[] = [];
  // The daemon runs for weeks: what the first round costs more is not what a clip costs.
  await oneRound(clips, names);
  for (let round = 0; round < ROUNDS; round++) rounds.push(await oneRound(clips, names));
  const ours = median(rounds.map((round) => round.ours));
  const beside = (name: string, peer: number, times: number | null, value = ours): Figure => ({
    name: `headline facts, ${kind}`,
    value,
    unit: times === null ? 'clips/s' : 'clips/CPU s',
    peer: { name, value: peer },
    goal: times === null ? null : `>= ${times} x`,
    holds: times === null ? null : value >= times * peer,
  });
  const batch = 'mediainfo, all files in one process';
  const wall = (side: 'ours' | 'mediainfo') => median(rounds.map((round) => round.wall[side]));
  return [
    beside(batch, median(rounds.map(({ mediainfo }) => mediainfo)), TIMES_MEDIAINFO),
    beside('ffprobe, one process a file', median(rounds.map(({ ffprobe }) => ffprobe)), TIMES_FFPROBE),
    beside(batch, wall('mediainfo'), null, wall('ours')),
  ];
}

async function oneRound(clips: readonly string[], names: readonly string[]): Promise<Round> {
  const ours = await costOf(() => {
    for (let pass = 0; pass < PASSES; pass++) for (const name of names) lookAt(name);
  });
  const mediainfo = mediainfoBatch(names);
  const ffprobe = ffprobeEach(clips);
  return {
    ours: (names.length * PASSES) / ours.cpu,
    mediainfo: names.length / mediainfo.cpu,
    ffprobe: clips.length / ffprobe.cpu,
    wall: { ours: (names.length * PASSES) / ours.wall, mediainfo: names.length / mediainfo.wall },
  };
}
