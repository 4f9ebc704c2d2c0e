import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import type { PictureTrack, Structure } from '../../../src/core/intake/container/structure.ts';
import {
  labelOf,
  mediainfo,
  pictureOf,
  soundsOf,
  structureOf,
  walkElements,
} from '../../core/intake/container/mxf-files.ts';
import { type Ffprobe, ffprobe, run } from '../tools.ts';

/*
 * Real encodes, and what two other programs say of them. Where one of them says something else the case lists it with the
 * reason, and all answers are held. The bytes are held to a walk over every element of the file as well.
 */

const scratch = mkdtempSync(join(tmpdir(), 'headroomd-mxf-'));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

type Difference = readonly [
  tool: 'ffprobe' | 'mediainfo',
  field: string,
  theirs: unknown,
  ours: unknown,
  reason: string,
];

interface Encode {
  name: string;
  size: string;
  rate: string;
  frames: number;
  /** Arguments between input and file. */
  args: string;
  /** How many tracks of sound are encoded along. */
  sounds?: number;
  /** Bytes of one frame, where a standard has published them. */
  frameBytes?: number;
  differences?: readonly Difference[];
}

const GOP = 'long GOP: unknown without reading the whole file';
const BLANKING = 'D-10 stores blanking above the picture (SMPTE ST 356); ffprobe counts it in';
const AES = 'D-10 sound is stored as eight channels of 32 bits (SMPTE ST 331); ffprobe sums what it unpacks';
const PULLDOWN = 'a part of five frames at 29.97 has no whole number of samples in every edit unit';
const d10 = (rate: string) =>
  `-c:v mpeg2video -pix_fmt yuv422p -b:v ${rate} -minrate ${rate} -maxrate ${rate} -bufsize 2000000 ` +
  '-rc_init_occupancy 2000000 -g 1 -flags:v +ildct+low_delay -top 1 -intra_vlc 1 -non_linear_quant 1 -dc 10 -qmax 12 -f mxf_d10';

const encodes: readonly Encode[] = [
  {
    ...{ name: 'MPEG-2 long GOP, interlaced', size: '720x576', rate: '25', frames: 12, sounds: 2 },
    args:
      '-c:v mpeg2video -pix_fmt yuv422p -b:v 8M -g 12 -bf 2 -flags:v +ildct+ilme -aspect 16:9 -c:a pcm_s24le ' +
      '-timecode 10:00:00:05 -metadata reel_name=A001',
    differences: [['ffprobe', 'bytes', 'known', null, GOP]],
  },
  {
    ...{ name: 'MPEG-2 long GOP, 29.97 drop-frame', size: '640x360', rate: '30000/1001', frames: 12, sounds: 1 },
    args: '-c:v mpeg2video -b:v 4M -bf 2 -c:a pcm_s16le -timecode 01:00:59;28',
    differences: [
      ['ffprobe', 'bytes', 'known', null, GOP],
      ['ffprobe', 'soundBytes', 'known', null, PULLDOWN],
    ],
  },
  {
    ...{ name: 'D-10, 625 lines', size: '720x608', rate: '25', frames: 5, sounds: 1, frameBytes: 250_000 },
    args: `${d10('50M')} -aspect 16:9 -ac 2 -c:a pcm_s16le`,
    differences: [
      ['ffprobe', 'height', 608, 576, BLANKING],
      ['ffprobe', 'aspect', '608:405', '64:45', BLANKING],
      ['ffprobe', 'soundBytes', 'known', 'known', AES],
    ],
  },
  {
    ...{ name: 'D-10, 525 lines', size: '720x512', rate: '30000/1001', frames: 4, frameBytes: 125_125 },
    args: `${d10('30M')} -aspect 4:3`,
    differences: [
      ['ffprobe', 'height', 512, 486, BLANKING],
      ['ffprobe', 'aspect', '128:135', '9:10', BLANKING],
    ],
  },
  {
    ...{ name: 'DNxHR LB, 59.94 drop-frame', size: '256x144', rate: '60000/1001', frames: 10, sounds: 1 },
    args: '-c:v dnxhd -profile:v dnxhr_lb -pix_fmt yuv422p -timecode 00:01:00;04 -metadata reel_name=B002',
    differences: [['ffprobe', 'soundBytes', 'known', null, PULLDOWN]],
  },
  {
    // SMPTE ST 2019-1, compression id 1242.
    ...{ name: 'DNxHD, interlaced', size: '1920x1080', rate: '25', frames: 2, frameBytes: 606_208 },
    args: '-c:v dnxhd -b:v 120M -flags:v +ildct -pix_fmt yuv422p',
  },
  {
    // IEC 61834: 144,000 bytes with 12 DIF sequences.
    ...{ name: 'DV25', size: '720x576', rate: '25', frames: 5, sounds: 1, frameBytes: 144_000 },
    args: '-c:v dvvideo -pix_fmt yuv420p -aspect 16:9',
  },
  {
    // SMPTE ST 370.
    ...{ name: 'DV100, 720p', size: '960x720', rate: '50', frames: 4, frameBytes: 288_000 },
    args: '-c:v dvvideo -pix_fmt yuv422p',
    differences: [
      [
        'mediainfo',
        'width',
        1280,
        960,
        'the descriptor tells the line of the signal; 960 samples of it are stored (ST 370)',
      ],
    ],
  },
  {
    // As ffmpeg 5.1.9 and x264 have it for class 100 at 25 frames: 568,832 bytes, access unit delimiter to padding.
    ...{ name: 'AVC-Intra 100', size: '1920x1080', rate: '25', frames: 2, frameBytes: 568_832 },
    args: '-c:v libx264 -preset ultrafast -avcintra-class 100 -pix_fmt yuv422p10le',
  },
  {
    ...{ name: 'OP-Atom, one element', size: '256x144', rate: '24000/1001', frames: 7 },
    args: '-c:v dnxhd -profile:v dnxhr_lb -pix_fmt yuv422p -timecode 01:00:00:00 -metadata reel_name=TAPE07 -f mxf_opatom',
  },
  {
    ...{ name: 'JPEG 2000', size: '320x180', rate: '24', frames: 3 },
    args: '-c:v jpeg2000 -pix_fmt yuv422p10le',
    differences: [['ffprobe', 'bytes', 'known', null, 'frames of many sizes: unknown without reading the whole file']],
  },
];

function encode(one: Encode): string {
  const path = join(scratch, `clip-${encodes.indexOf(one)}.mxf`);
  const sounds = Array.from({ length: one.sounds ?? 0 }, () => '-f lavfi -i sine=frequency=440:sample_rate=48000').join(
    ' ',
  );
  const maps = Array.from({ length: 1 + (one.sounds ?? 0) }, (_, input) => `-map ${input}`).join(' ');
  const input = `-nostdin -loglevel error -y -f lavfi -i testsrc2=size=${one.size}:rate=${one.rate} ${sounds} ${maps}`;
  run('ffmpeg', [...`${input} -frames:v ${one.frames} -shortest ${one.args}`.split(' ').filter(Boolean), path]);
  return path;
}

const sumOf = (told: Ffprobe, kind: string) =>
  told.packets.filter((packet) => packet.codec_type === kind).reduce((sum, { size }) => sum + Number(size), 0);

type Fields = Record<string, unknown>;

function ffprobeFields(told: Ffprobe): Fields {
  const video = told.streams.find((stream) => stream.codec_type === 'video');
  const sounds = told.streams.filter((stream) => stream.codec_type === 'audio');
  const order = video?.field_order;
  return {
    ...{ width: video?.width, height: video?.height, rate: video?.r_frame_rate },
    frames: Number(video?.nb_read_packets),
    bytes: sumOf(told, 'video'),
    aspect: (video as { sample_aspect_ratio?: string } | undefined)?.sample_aspect_ratio,
    scan: order === undefined ? null : order === 'progressive' ? 'progressive' : 'interlaced',
    timecode: video?.tags?.['timecode'] ?? told.format.tags?.['timecode'],
    reel: video?.tags?.['reel_name'] ?? null,
    channels: sounds.map(({ channels }) => channels),
    soundBytes: sumOf(told, 'audio'),
  };
}

function mediainfoFields(tracks: ReturnType<typeof mediainfo>): Fields {
  const of = (kind: string) => tracks.find((track) => track['@type'] === kind);
  const video = of('Video');
  const material = tracks.find((track) => track['TimeCode_Settings'] === 'Material Package');
  return {
    container: `MXF ${of('General')?.['Format_Profile']?.replace(/^OP-(\d)/, 'OP$1')}`,
    ...{ width: Number(video?.['Width']), height: Number(video?.['Height']) },
    rate: `${video?.['FrameRate_Num']}/${video?.['FrameRate_Den']}`,
    frames: Number(video?.['FrameCount']),
    ...{ depth: Number(video?.['BitDepth']), chroma: video?.['ChromaSubsampling'] },
    scan: video?.['ScanType']?.toLowerCase(),
    timecode: material?.['TimeCode_FirstFrame'],
    reel: of('General')?.['PackageName'] ?? null,
    tracks: tracks.filter((track) => track['@type'] === 'Video' || track['@type'] === 'Audio').length,
  };
}

function ourFields(structure: Structure): Fields {
  const picture: PictureTrack = pictureOf(structure);
  const ratio = (value: PictureTrack['frameRate'], sign: string) => `${value?.num}${sign}${value?.den}`;
  const sums = soundsOf(structure).map(({ bytes }) => bytes);
  return {
    ...{ ...picture, container: structure.container, depth: picture.bitDepth, reel: structure.reel },
    ...{ rate: ratio(picture.frameRate, '/'), aspect: ratio(picture.pixelAspect, ':') },
    timecode: labelOf(structure.timecodes[0]),
    channels: soundsOf(structure).map(({ channels }) => channels),
    soundBytes: sums.reduce<number | null>((sum, bytes) => (sum === null || bytes === null ? null : sum + bytes), 0),
    tracks: structure.tracks.length,
  };
}

/** What differs, as the cases list it; amounts of bytes that are known are told as such. */
function differences(tool: Difference[0], theirs: Fields, ours: Fields): unknown[] {
  const shown = (field: string, value: unknown) => (/bytes/i.test(field) && value !== null ? 'known' : value);
  return Object.keys(theirs)
    .filter((field) => JSON.stringify(theirs[field]) !== JSON.stringify(ours[field]))
    .map((field) => [tool, field, shown(field, theirs[field]), shown(field, ours[field])]);
}

describe('what other programs say', () => {
  test.each(encodes)('$name', (one) => {
    const path = encode(one);
    const file = new Uint8Array(readFileSync(path));
    const structure = structureOf(file);
    const ours = ourFields(structure);
    const found = [
      ...differences('ffprobe', ffprobeFields(ffprobe(path)), ours),
      ...differences('mediainfo', mediainfoFields(mediainfo(path)), ours),
    ];
    expect(found).toEqual((one.differences ?? []).map(([tool, field, theirs, mine]) => [tool, field, theirs, mine]));
    expect(structure.troubles).toEqual([]);
    holdsToElements(structure, file);
    const { frames, bytes } = pictureOf(structure);
    if (one.frameBytes !== undefined) expect((bytes ?? 0) / (frames ?? 0)).toBe(one.frameBytes);
  });
});

/** Sums of the elements, picture in front of sound, as the tracks have them where they know. */
function holdsToElements(structure: Structure, file: Uint8Array): void {
  const sums = [...walkElements(file)].sort(([one], [other]) => (isSound(one) ? 1 : 0) - (isSound(other) ? 1 : 0));
  expect(sums).toHaveLength(structure.tracks.length);
  for (const [index, track] of structure.tracks.entries()) {
    if (track.type !== 'other' && track.bytes !== null) expect(track.bytes).toBe(sums[index]?.[1].bytes);
  }
}

const isSound = (number: string) => number.startsWith('16') || number.startsWith('06');

describe('files of one take, each with one track (OP-Atom)', () => {
  const picture = join(scratch, 'atom-picture.mxf');
  const sound = join(scratch, 'atom-sound.mxf');
  const common = '-nostdin -loglevel error -y -f lavfi -i';
  const bytesOf = (path: string) => new Uint8Array(readFileSync(path));
  run('ffmpeg', [
    ...`${common} testsrc2=size=256x144:rate=25 -frames:v 25 -c:v dnxhd -profile:v dnxhr_lb -pix_fmt yuv422p`.split(
      ' ',
    ),
    ...`-timecode 01:00:00:00 -metadata reel_name=TAPE07 -f mxf_opatom ${picture}`.split(' '),
  ]);
  run('ffmpeg', [
    ...`${common} sine=sample_rate=48000 -t 1 -c:a pcm_s24le -timecode 01:00:00:00 -f mxf_opatom ${sound}`.split(' '),
  ]);

  test('sound alone: samples, bytes, and a timecode in frames', () => {
    const structure = structureOf(bytesOf(sound));
    expect(structure.container).toBe('MXF OP-Atom');
    expect(soundsOf(structure)).toMatchObject([
      { channels: 1, sampleRate: 48_000, bitDepth: 24, samples: 48_000, durationSeconds: 1, bytes: 144_000 },
    ]);
    expect(sumOf(ffprobe(sound), 'audio')).toBe(144_000);
    expect(labelOf(structure.timecodes[0])).toBe('01:00:00:00');
  });

  test('share the material package once they are of one take', () => {
    const [one, other] = [bytesOf(picture), bytesOf(sound)];
    const [first, second] = [structureOf(one), structureOf(other)].map(({ ties }) => ties.materialPackage);
    expect(first).toMatch(/^060a2b34010101[0-9a-f]{50}$/);
    expect(second).not.toBe(first);
    // Local tag 4401, 32 bytes: the first is that of the material package.
    const at = (file: Uint8Array) => Buffer.from(file.buffer).indexOf(Buffer.from('44010020', 'hex')) + 4;
    other.set(one.subarray(at(one), at(one) + 32), at(other));
    expect(structureOf(other).ties.materialPackage).toBe(first);
  });

  test('a zero in the material package gives way to the tape, as with ffprobe', () => {
    const file = bytesOf(picture);
    // Local tag 1501, 8 bytes: the first timecode is that of the material package.
    const at = Buffer.from(file.buffer).indexOf(Buffer.from('15010008', 'hex')) + 4;
    file.fill(0, at, at + 8);
    writeFileSync(picture, file);
    const { timecodes, reel } = structureOf(file);
    expect([timecodes[0]?.place, labelOf(timecodes[0]), reel]).toEqual(['physical-package', '01:00:00:00', 'TAPE07']);
    expect(timecodes.map(labelOf)).toEqual(['01:00:00:00', '00:00:00:00', '01:00:00:00']);
    expect(ffprobeFields(ffprobe(picture))).toMatchObject({ timecode: '01:00:00:00', reel: 'TAPE07' });
    const material = mediainfo(picture).find((track) => track['TimeCode_Settings'] === 'Material Package');
    expect(material?.['TimeCode_FirstFrame']).toBe('00:00:00:00');
  });
});

describe('written to a pipe, so that the header stays open', () => {
  test.each([
    ['units of one size', '-c:v dnxhd -profile:v dnxhr_lb -pix_fmt yuv422p', 30, 30 * 8192],
    ['units of many sizes, more than one partition', '-c:v mpeg2video', 520, null],
  ])('%s', (_, coding, frames, bytes) => {
    const source = '-nostdin -loglevel error -f lavfi -i testsrc2=size=256x144:rate=25';
    const args = `${source} -frames:v ${frames} ${coding} -f mxf pipe:1`.split(' ');
    const done = spawnSync('ffmpeg', args, { maxBuffer: 1 << 28 });
    const structure = structureOf(new Uint8Array(done.stdout));
    expect(pictureOf(structure)).toMatchObject({ frames, bytes, durationSeconds: frames / 25 });
    expect(structure.troubles).toEqual(['the header was never closed']);
  });
});
