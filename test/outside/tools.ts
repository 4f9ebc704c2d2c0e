import { spawnSync } from 'node:child_process';
import { extname } from 'node:path';
import { knowFile } from '../../src/core/intake/know.ts';
import type { ClipFacts } from '../../src/core/model.ts';
import type { Prober } from '../../src/rim/probe/pool.ts';
import { statOf } from '../rim/probe/files.ts';

const INSTALL = 'apt-get update && apt-get install -y --no-install-recommends ffmpeg';

/** Runs ffmpeg or ffprobe; fails with what to install where they are missing, and with their own words where they fail. */
export function run(tool: 'ffmpeg' | 'ffprobe', args: readonly string[]): string {
  const done = spawnSync(tool, args, { encoding: 'utf8', maxBuffer: 1 << 28 });
  if (done.error !== undefined) throw new Error(`${tool} cannot be run (${done.error.message}): ${INSTALL}`);
  if (done.status !== 0) throw new Error(`${tool} ${args.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

/** Encodes a moving test picture. */
export function encode(
  picture: { width: number; height: number; rate: { num: number; den: number }; frames: number },
  args: readonly string[],
  path: string,
): void {
  const source = `testsrc2=size=${picture.width}x${picture.height}:rate=${picture.rate.num}/${picture.rate.den}`;
  const input = ['-nostdin', '-loglevel', 'error', '-y', '-f', 'lavfi', '-i', source];
  run('ffmpeg', [...input, '-frames:v', String(picture.frames), '-fflags', '+bitexact', ...args, path]);
}

/** What the product says of a file: probe and facts, as in the daemon. */
export async function factsOf(prober: Prober, path: string): Promise<ClipFacts> {
  const stat = statOf(path);
  const outcome = await prober.probe(path, stat);
  if (!outcome.ok) throw new Error(`${path}: ${outcome.reason}: ${outcome.detail}`);
  const known = knowFile(outcome.raw, { sizeBytes: stat.size, extension: extname(path).slice(1) });
  if (known === null) throw new Error(`${path}: no picture and no sound was found in it`);
  return known.facts;
}

export interface FfprobeStream {
  codec_type: string;
  codec_name?: string;
  width?: number;
  height?: number;
  r_frame_rate?: string;
  avg_frame_rate?: string;
  duration?: string;
  pix_fmt?: string;
  field_order?: string;
  bits_per_raw_sample?: string;
  channels?: number;
  nb_read_packets?: string;
  tags?: Record<string, string>;
}

export interface Ffprobe {
  streams: FfprobeStream[];
  packets: { stream_index: number; codec_type: string; size: string }[];
  format: { duration?: string; tags?: Record<string, string> };
}

/** ffprobe's answer, every packet counted. */
export function ffprobe(path: string): Ffprobe {
  const args = ['-v', 'error', '-count_packets', '-show_streams', '-show_format', '-show_packets', '-of', 'json', path];
  return JSON.parse(run('ffprobe', args));
}
