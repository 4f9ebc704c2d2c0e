import { spawnSync } from 'node:child_process';
import { cpSync, linkSync, mkdirSync, readdirSync } from 'node:fs';
import { basename, extname, join } from 'node:path';
import { media } from '../../process/headroomd.ts';

/** Paths of clips, by the container. */
export interface Clips {
  /** QuickTime and MP4. */
  movies: readonly string[];
  mxf: readonly string[];
  others: readonly string[];
}

const SECONDS = '4';
const PICTURE = ['-f', 'lavfi', '-i', 'testsrc2=size=1920x1080:rate=25', '-f', 'lavfi', '-i', 'sine=sample_rate=48000'];

/** Takes of some seconds beside the committed clips, which are short: what costs time in a reader grows with the take. */
const ENCODES: readonly (readonly [name: string, ...options: string[]])[] = [
  ['A010C001.mov', '-c:v', 'prores_ks', '-profile:v', 'lt', '-c:a', 'pcm_s24le', '-timecode', '09:00:00:00'],
  ['S010C001.MP4', '-c:v', 'libx264', '-preset', 'ultrafast', '-g', '12', '-c:a', 'aac', '-timecode', '10:00:00:00'],
  ['B010C001.mxf', '-c:v', 'dnxhd', '-profile:v', 'dnxhr_sq', '-pix_fmt', 'yuv422p', '-timecode', '11:00:00:00'],
  ['X010C001.MXF', '-c:v', 'mpeg2video', '-pix_fmt', 'yuv422p', '-b:v', '50M', '-g', '12', '-timecode', '12:00:00:00'],
];

/** The committed clips and some longer ones, encoded by ffmpeg. */
export function makeClips(folder: string): Clips {
  for (const entry of readdirSync(media, { withFileTypes: true })) {
    if (entry.isFile()) cpSync(join(media, entry.name), join(folder, entry.name));
  }
  for (const [name, ...options] of ENCODES) ffmpeg([...PICTURE, '-t', SECONDS, ...options, join(folder, name)]);
  const paths = readdirSync(folder).map((name) => join(folder, name));
  const of = (...endings: string[]) => paths.filter((path) => endings.includes(extname(path).toLowerCase()));
  return { movies: of('.mov', '.mp4'), mxf: of('.mxf'), others: of('.wav', '.avi', '.dv') };
}

/** So many names for each of the files, in a folder of their own: the content is in memory once, each name is a file to read. */
export function namesFor(files: readonly string[], times: number, folder: string): string[] {
  mkdirSync(folder, { recursive: true });
  return Array.from({ length: times }, (_, copy) =>
    files.map((file) => {
      const name = join(folder, `${copy}-${basename(file)}`);
      linkSync(file, name);
      return name;
    }),
  ).flat();
}

/** Runs ffmpeg; throws with what it said. */
export function ffmpeg(options: readonly string[]): void {
  const done = spawnSync('ffmpeg', ['-nostdin', '-v', 'error', '-y', ...options], { encoding: 'utf8' });
  if (done.status !== 0) throw new Error(`ffmpeg failed: ${done.error?.message ?? done.stderr.trim()}`);
}
