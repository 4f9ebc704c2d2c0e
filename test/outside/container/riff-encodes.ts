import { dpx } from '../../core/intake/container/dpx-files.ts';
import { chunk, riff } from '../../core/intake/container/riff-files.ts';
import { bext, data, format, ixml, speed } from '../../core/intake/container/wave-files.ts';

const tone = ['-f', 'lavfi', '-i', 'sine=frequency=440:sample_rate=48000'];
const eight = ['-filter_complex', '[0]pan=8c|c0=c0|c1=c0|c2=c0|c3=c0|c4=c0|c5=c0|c6=c0|c7=c0'];
const header = [
  '-write_bext',
  '1',
  '-metadata',
  'time_reference=1775520000',
  '-metadata',
  'origination_date=2027-02-11',
];
const scene = (size: string, rate: string) => ['-f', 'lavfi', '-i', `testsrc2=size=${size}:rate=${rate}`];
const still = (format: string) => [...scene('64x36', '24'), '-frames:v', '1', '-c:v', 'dpx', '-pix_fmt', format];

/** Arguments of ffmpeg by the name of what they make. */
export const encodes: Readonly<Record<string, readonly string[]>> = {
  'poly.wav': [
    ...tone,
    '-t',
    '0.5',
    ...eight,
    '-c:a',
    'pcm_s24le',
    ...header,
    '-metadata',
    'origination_time=10:16:30',
  ],
  'cd.wav': [...tone, '-t', '0.5', '-ar', '44100', '-ac', '2', '-c:a', 'pcm_s16le'],
  'float.wav': [...tone, '-t', '0.5', '-ar', '96000', '-c:a', 'pcm_f32le'],
  'adpcm.wav': [...tone, '-t', '0.5', '-c:a', 'adpcm_ima_wav'],
  'rf64.wav': [...tone, '-t', '0.5', '-c:a', 'pcm_s24le', '-rf64', 'always'],
  'rf64-header.wav': [...tone, '-t', '0.5', '-c:a', 'pcm_s24le', '-rf64', 'always', ...header],
  'mjpeg.avi': [...scene('320x180', '25'), ...tone, '-t', '2', '-c:v', 'mjpeg', '-c:a', 'pcm_s16le'],
  'dv-525.avi': [
    ...scene('720x480', '30000/1001'),
    ...tone,
    '-t',
    '0.5',
    '-c:v',
    'dvvideo',
    '-pix_fmt',
    'yuv411p',
    '-ac',
    '2',
  ],
  'dv-625.avi': [...scene('720x576', '25'), '-t', '0.5', '-c:v', 'dvvideo', '-pix_fmt', 'yuv420p', '-aspect', '16:9'],
  'rgb.avi': [...scene('64x48', '24000/1001'), '-t', '1', '-c:v', 'rawvideo', '-pix_fmt', 'bgr24'],
  'uyvy.avi': [...scene('64x48', '25'), '-t', '1', '-c:v', 'rawvideo', '-pix_fmt', 'uyvy422'],
  'mp3.avi': [...scene('64x48', '50'), ...tone, '-t', '1', '-c:v', 'mjpeg', '-c:a', 'mp3'],
  'gray8.dpx': still('gray'),
  'rgb8.dpx': still('rgb24'),
  'rgba8.dpx': still('rgba'),
  'rgb10.dpx': still('gbrp10le'),
  'rgb10-big.dpx': still('gbrp10be'),
  'rgb12.dpx': still('gbrp12le'),
  'rgb16.dpx': still('rgb48be'),
};

const told = speed({ rate: '25/1', flag: 'NDF' });
const second = bext({ date: '2027-02-11', time: '10:16:30', reference: 1_775_520_000 });
const full = {
  width: 64,
  height: 36,
  date: '2027:03:03:10:16:30',
  aspect: [4, 3],
  televisionRate: 24,
  timecode: 0x10163005,
} as const;

/** Files that ffmpeg does not make. */
export const built: Readonly<Record<string, Uint8Array>> = {
  'behind.wav': riff('WAVE', format(), data(28_800), second, ixml(`<SCENE>12</SCENE>${told}`)),
  'twenty.wav': riff('WAVE', format({ bits: 20 }), data(28_800)),
  'padded.wav': riff('WAVE', chunk('JUNK', new Uint8Array(40_000)), format({ channels: 1 }), data(28_803), second),
  'header.dpx': dpx(full),
  'header-big.dpx': dpx({ ...full, bigEndian: true }),
};
