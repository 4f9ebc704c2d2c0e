import { lstatSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { ProbeOutcome } from '../../../src/core/root-port.ts';
import { toFileStat } from '../../../src/rim/base/file-stat.ts';
import { createProber } from '../../../src/rim/probe/pool.ts';
import { fixture } from '../../rim/probe/files.ts';
import { hostileFiles } from '../../rim/probe/hostile.ts';
import type { Figure } from '../figure.ts';
import { ffmpeg, namesFor } from './clips.ts';
import type { Ground } from './ground.ts';

const NAMES = 50;
const WORKERS = 2;

/** What clips are made of: each of them with a start timecode of its own, 200 in all. */
const SOURCES: readonly { source: string; ending: string; clips: number }[] = [
  { source: 'A004C002_270211.mov', ending: '.mov', clips: 80 },
  { source: 'lock-keepers_review.mp4', ending: '.mp4', clips: 60 },
  { source: 'B001C001_270211.mxf', ending: '.mxf', clips: 60 },
];

/** 10,000 files asked for at once, hostile ones among them that end the worker: does each get the answer that is its own? */
export async function measureConcurrent(ground: Ground): Promise<Figure[]> {
  const made = makeClips(ground.place('timecodes'));
  const names = namesFor([...made.keys()], NAMES, ground.place('names'));
  const timecodeOf = new Map(names.map((name, at) => [name, [...made.values()][at % made.size] ?? '']));
  const hostile = ground.place('hostile');
  for (const { name, bytes } of hostileFiles) writeFileSync(join(hostile, name), bytes());
  const every = Math.floor(names.length / hostileFiles.length);
  const asked = names.flatMap((name, at) => {
    const file = at % every === 0 ? hostileFiles[at / every] : undefined;
    return file === undefined ? [name] : [join(hostile, file.name), name];
  });
  const prober = createProber({ workers: WORKERS, now: () => performance.now() });
  try {
    const outcomes = await Promise.all(
      asked.map(async (path) => {
        const stat = toFileStat(path, lstatSync(path, { bigint: true }));
        return [timecodeOf.get(path), await prober.probe(path, stat)] as const;
      }),
    );
    const clips = outcomes.filter((one): one is [string, ProbeOutcome] => one[0] !== undefined);
    const none = clips.filter(([, outcome]) => !outcome.ok).length;
    if (none > 0) throw new Error(`${none} of ${clips.length} clips could not be probed`);
    const wrong = clips.filter(([timecode, outcome]) => !tells(outcome, timecode)).length;
    return [
      {
        name: `concurrent: ${clips.length} probes at once, ${hostileFiles.length} hostile ones beside, answers from another clip`,
        value: wrong,
        unit: 'answers',
        peer: null,
        goal: '0',
        holds: wrong === 0,
      },
    ];
  } finally {
    await prober.close();
  }
}

/** Whether this is the only start timecode that the answer knows of. */
function tells(outcome: ProbeOutcome, timecode: string): boolean {
  if (!outcome.ok) return false;
  const told = outcome.raw.tracks.map((track) => track['TimeCode_FirstFrame']).filter((value) => value !== undefined);
  return told.length > 0 && told.every((value) => value === timecode);
}

/** @returns the start timecode of each file */
function makeClips(folder: string): Map<string, string> {
  const made = new Map<string, string>();
  for (const { source, ending, clips } of SOURCES) {
    const outputs = Array.from({ length: clips }, () => {
      const number = made.size;
      const timecode = `${two(number % 24)}:${two(number % 60)}:${two(Math.floor(number / 60))}:${two(number % 23)}`;
      const path = join(folder, `T${number}${ending}`);
      made.set(path, timecode);
      return ['-map', '0:v', '-map', '0:a?', '-map_metadata', '-1', '-c', 'copy', '-timecode', timecode, path];
    });
    ffmpeg(['-i', fixture(source), ...outputs.flat()]);
  }
  return made;
}

function two(value: number): string {
  return String(value).padStart(2, '0');
}
