import { run } from '../tools.ts';

/** A clip that ffmpeg makes at test time: what is in it, by the arguments between inputs and file. */
export interface Encode {
  name: string;
  picture?: { size: string; rate: string; frames: number };
  /** Sound of one pitch: samples a second; a twentieth of a second unless the picture is longer. */
  sound?: number;
  args: readonly string[];
}

const small = (rate: string, frames: number) => ({ size: '160x90', rate, frames });
const h264 = ['-c:v', 'libx264', '-preset', 'ultrafast'];
const fragments = (...flags: string[]) => [...h264, '-g', '10', '-c:a', 'aac', '-movflags', flags.join('+')];

export const ENCODES: readonly Encode[] = [
  {
    name: 'prores-four-channels.mov',
    picture: small('24000/1001', 8),
    sound: 48_000,
    args: [
      '-c:v',
      'prores_ks',
      '-c:a',
      'pcm_s16le',
      '-ac',
      '4',
      '-timecode',
      '01:02:03:04',
      '-metadata:s:v',
      'reel_name=L003',
    ],
  },
  { name: 'drop-59.mov', picture: small('60000/1001', 20), args: [...h264, '-timecode', '01:00:00;04'] },
  { name: 'drop-29.mp4', picture: small('30000/1001', 20), args: [...h264, '-timecode', '23:59:59;28'] },
  {
    name: 'reordered.mov',
    picture: small('25', 25),
    args: ['-c:v', 'libx264', '-bf', '3', '-timecode', '10:00:00:00'],
  },
  { name: 'two-pictures.mov', picture: small('50', 5), args: ['-map', '0', '-map', '0', '-c:v', 'mjpeg'] },
  {
    name: 'varying.mp4',
    picture: small('25', 40),
    args: [
      ...h264,
      '-vf',
      "setpts='PTS+if(gt(mod(N,7),3),0.3/TB,0)+N*N*0.001/TB'",
      '-vsync',
      'vfr',
      '-video_track_timescale',
      '90000',
    ],
  },
  { name: 'milliseconds.mp4', picture: small('24000/1001', 100), args: [...h264, '-video_track_timescale', '1000'] },
  { name: 'imx-625.mov', picture: { size: '720x608', rate: '25', frames: 2 }, args: imx('mx5p') },
  { name: 'imx-525.mov', picture: { size: '720x512', rate: '30000/1001', frames: 2 }, args: imx('mx3n') },
  { name: 'fields.mov', picture: small('50', 8), args: ['-vf', 'interlace', '-c:v', 'prores_ks', '-flags', '+ildct'] },
  { name: 'anamorphic.mov', picture: small('25', 3), args: ['-vf', 'setsar=64/45', '-c:v', 'v210'] },
  { name: 'still.mov', picture: small('25', 1), args: ['-c:v', 'mjpeg'] },
  { name: 'fragments.mp4', picture: small('25', 50), sound: 48_000, args: fragments('frag_keyframe', 'empty_moov') },
  {
    name: 'fragments-by-their-own-base.mp4',
    picture: small('25', 50),
    sound: 48_000,
    args: fragments('frag_keyframe', 'empty_moov', 'default_base_moof'),
  },
  { name: 'fragments-no-table.mp4', picture: small('25', 50), args: fragments('frag_keyframe', 'skip_trailer') },
  {
    name: 'index-and-fragments.mov',
    picture: small('25', 50),
    sound: 48_000,
    args: [...fragments('frag_keyframe'), '-timecode', '10:00:00:00'],
  },
  {
    name: 'uncompressed.mov',
    sound: 48_000,
    args: sounds(
      'pcm_s16le',
      'pcm_s16be',
      'pcm_s24le',
      'pcm_s24be',
      'pcm_s32le',
      'pcm_f32le',
      'pcm_f64le',
      'pcm_u8',
      'pcm_alaw',
      'adpcm_ima_qt',
    ),
  },
  { name: 'pcm-96.mov', sound: 96_000, args: ['-c:a', 'pcm_s24le'] },
  { name: 'aac-96.mov', sound: 96_000, args: ['-c:a', 'aac', '-ac', '2'] },
  {
    name: 'compressed.mp4',
    sound: 48_000,
    args: [...sounds('aac', 'aac', 'ac3', 'alac', 'flac'), '-ac:0', '1', '-ac:1', '6', '-ac:2', '6', '-strict', '-2'],
  },
];

function imx(tag: string): string[] {
  return ['-c:v', 'mpeg2video', '-pix_fmt', 'yuv422p', '-g', '1', '-tag:v', tag];
}

/** One track for each codec, in stereo. */
function sounds(...codecs: string[]): string[] {
  return codecs.flatMap((codec, index) => ['-map', '0', `-c:${index}`, codec, `-ac:${index}`, '2']);
}

/** Writes the clip into a folder and returns its path. */
export function make({ name, picture, sound, args }: Encode, folder: string): string {
  const seconds = picture === undefined ? '0.05' : '2';
  const frames = picture === undefined ? [] : ['-frames:v', String(picture.frames)];
  const path = `${folder}/${name}`;
  run('ffmpeg', [
    ...['-nostdin', '-loglevel', 'error', '-y'],
    ...(picture === undefined ? [] : ['-f', 'lavfi', '-i', `testsrc2=size=${picture.size}:rate=${picture.rate}`]),
    ...(sound === undefined ? [] : ['-t', seconds, '-f', 'lavfi', '-i', `sine=frequency=440:sample_rate=${sound}`]),
    ...['-fflags', '+bitexact', '-metadata', 'creation_time=2027-02-11T09:41:12Z', ...frames, ...args, path],
  ]);
  return path;
}
