import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, describe, expect, test } from 'vitest';
import type { PictureTrack, SoundTrack, Structure } from '../../../src/core/intake/container/structure.ts';
import { formatTimecode, fromFrameNumber } from '../../../src/core/intake/timecode.ts';
import { structureOf } from '../../core/intake/container/bmff-build.ts';
import { type Ffprobe, type FfprobeStream, ffprobe, run } from '../tools.ts';
import { ENCODES, make } from './bmff-encodes.ts';

/**
 * Real encodes, and the committed clips: what the header reader says is what ffprobe says, which reads the same boxes with
 * other code and counts the packets. Where the two differ the case is listed with its reason, and both answers are held.
 */

const folder = mkdtempSync(join(tmpdir(), 'bmff-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const media = fileURLToPath(new URL('../../fixtures/media/', import.meta.url));

type Answers = Record<string, string | number | null>;

interface Disagreement {
  clip: RegExp;
  field: RegExp;
  ours: string | number | null;
  theirs: string | number | null;
  reason: string;
}

const STILL = 'one frame is a still; ffprobe gives it a rate and a length';
const D10 = 'SMPTE ST 356: shown are 576 of 608 lines, and 486 of 512';
const COMPANDED = 'ffprobe tells what is stored; the depth of companded sound is not its 8 bits';
const FIEL = 'DV is coded in fields (IEC 61834), whatever the wrapping says';

const VARYING = 'ours is the rate of most frames; ffprobe looks for one that has a frame wherever the file has one';

const disagreements: readonly Disagreement[] = [
  { clip: /^IMG_0217/, field: /rate/, ours: '25/1', theirs: '50/1', reason: VARYING },
  { clip: /^imx-625/, field: /height/, ours: 576, theirs: 608, reason: D10 },
  { clip: /^imx-525/, field: /height/, ours: 486, theirs: 512, reason: D10 },
  { clip: /^still/, field: /rate/, ours: null, theirs: '25/1', reason: STILL },
  { clip: /^still/, field: /seconds/, ours: null, theirs: '0.040', reason: STILL },
  { clip: /^uncompressed/, field: /8 bits/, ours: null, theirs: 8, reason: COMPANDED },
  { clip: /^uncompressed/, field: /9 bits/, ours: null, theirs: 4, reason: COMPANDED },
  { clip: /^tape07_scene14/, field: /scan/, ours: 'interlaced', theirs: 'progressive', reason: FIEL },
];

describe.each(ENCODES)('$name', (encode) => {
  test('is told as ffprobe tells it', () => compare(make(encode, folder)));
});

const committed = ['A004C002_270211.mov', 'tape07_scene14.mov', 'IMG_0217.MOV', 'S003_0042.MP4', 'H007_0003.MP4'];

describe.each(committed)('%s', (name) => {
  test('is told as ffprobe tells it', () => compare(media + name));
});

describe('copies with a changed header', () => {
  const original = () =>
    make({ name: 'plain.mp4', picture: { size: '160x90', rate: '25', frames: 10 }, args: [] }, folder);

  // The tag of ffmpeg counts anti-clockwise, as ffprobe does.
  test.each([90, 270])('turned by %d degrees anti-clockwise', (turn) => {
    const path = join(folder, `turned-${turn}.mp4`);
    run('ffmpeg', [
      '-loglevel',
      'error',
      '-y',
      '-i',
      original(),
      '-c',
      'copy',
      '-metadata:s:v',
      `rotate=${turn}`,
      path,
    ]);
    expect(pictureOf(told(path)).rotation).toBe(360 - turn);
    compare(path);
  });

  test('cut at a frame by an edit list: stored frames stay, the timecode moves on', () => {
    const long = {
      name: 'long.mov',
      picture: { size: '160x90', rate: '25', frames: 50 },
      args: ['-g', '50', '-timecode', '10:00:00:00'],
    };
    const path = join(folder, 'trimmed.mov');
    run('ffmpeg', [
      '-loglevel',
      'error',
      '-y',
      '-ss',
      '0.6',
      '-i',
      make(long, folder),
      '-map',
      '0',
      '-c',
      'copy',
      path,
    ]);
    const structure = told(path);
    // ffprobe gives the counter as it stands: 10:00:00:00, a picture that is not shown.
    expect(labelOf(structure)).toBe('10:00:00:15');
    expect(structure.troubles).toEqual(['the edit list moves the start timecode by 15 frames']);
    expect(pictureOf(structure)).toMatchObject({ frames: 50, durationSeconds: 2, frameRate: { num: 25, den: 1 } });
  });
});

function told(path: string): Structure {
  return structureOf(new Uint8Array(readFileSync(path)));
}

/** Field by field; what ffprobe does not tell is not compared. */
function compare(path: string): void {
  const structure = told(path);
  const probe = ffprobe(path);
  const ours = answersOf(structure);
  const theirs = answersOfFfprobe(probe);
  for (const [field, value] of Object.entries(theirs)) {
    const known = disagreements.find(({ clip, field: at }) => clip.test(basename(path)) && at.test(field));
    expect([field, ours[field]]).toEqual([field, known === undefined ? value : known.ours]);
    if (known !== undefined) expect([field, value]).toEqual([field, known.theirs]);
  }
  expect(structure.troubles).toEqual([]);
  const varying = /^(varying|IMG_0217)/.test(basename(path));
  const moving = structure.tracks.filter((track) => track.type === 'picture' && track.frames !== 1);
  for (const track of moving) expect(track).toMatchObject({ variableRate: varying });
}

function answersOf(structure: Structure): Answers {
  const answers: Answers = {
    tracks: structure.tracks.map(({ type }) => type).join(' '),
    timecode: labelOf(structure),
    reel: structure.reel,
    created: structure.createdAt,
    model: structure.camera,
  };
  structure.tracks.forEach((track, index) => {
    const own = track.type === 'picture' ? pictureAnswers(track) : track.type === 'sound' ? soundAnswers(track) : {};
    for (const [field, value] of Object.entries(own)) answers[`${index} ${field}`] = value;
  });
  return answers;
}

function pictureAnswers(track: PictureTrack): Answers {
  return {
    codec: track.codecId,
    width: track.width,
    height: track.height,
    rate: track.frameRate === null ? null : `${track.frameRate.num}/${track.frameRate.den}`,
    aspect: track.pixelAspect === null ? null : `${track.pixelAspect.num}:${track.pixelAspect.den}`,
    rotation: track.rotation,
    packets: track.frames,
    bytes: track.bytes,
    seconds: track.durationSeconds === null ? null : track.durationSeconds.toFixed(3),
    scan: track.scan,
  };
}

function soundAnswers(track: SoundTrack): Answers {
  const { codecId: codec, channels, sampleRate: rate, bitDepth: bits, bytes } = track;
  return { codec, channels, rate, bits, bytes };
}

function labelOf({ timecodes: [first] }: Structure): string | null {
  const label = first === undefined ? null : fromFrameNumber(first.frame, first.rate, first.drop);
  return label === null ? null : formatTimecode(label);
}

function pictureOf(structure: Structure): PictureTrack {
  const found = structure.tracks.find((track) => track.type === 'picture');
  if (found === undefined) throw new Error('no picture track');
  return found;
}

interface Stream extends FfprobeStream {
  codec_tag_string?: string;
  sample_aspect_ratio?: string;
  sample_rate?: string;
  bits_per_sample?: number;
  side_data_list?: { rotation?: number }[];
}

const KINDS: Readonly<Record<string, string>> = { video: 'picture', audio: 'sound' };

function answersOfFfprobe(probe: Ffprobe): Answers {
  const tag = (name: string) =>
    probe.format.tags?.[name] ??
    probe.streams.map(({ tags }) => tags?.[name]).find((value) => value !== undefined) ??
    null;
  const answers: Answers = {
    tracks: probe.streams.map(({ codec_type: kind }) => KINDS[kind] ?? 'other').join(' '),
    timecode: tag('timecode'),
    reel: tag('reel_name'),
    created:
      (tag('com.apple.quicktime.creationdate') ?? tag('creation_time'))
        ?.replace('.000000', '')
        .replace(/(\+..)(..)$/, '$1:$2') ?? null,
    model: cameraOf(tag('com.apple.quicktime.make'), tag('com.apple.quicktime.model')),
  };
  probe.streams.forEach((stream, index) => {
    for (const [field, value] of Object.entries(streamAnswers(stream, probe, index))) {
      if (value !== null && value !== undefined) answers[`${index} ${field}`] = value;
    }
  });
  return answers;
}

function cameraOf(make: string | null, model: string | null): string | null {
  return make === null ? model : `${make} ${model}`;
}

function streamAnswers(
  stream: Stream,
  { packets }: Ffprobe,
  index: number,
): Record<string, string | number | null | undefined> {
  const bytes = packets.filter((one) => one.stream_index === index).reduce((sum, { size }) => sum + Number(size), 0);
  const codec = stream.codec_tag_string?.startsWith('[') === true ? null : stream.codec_tag_string;
  if (stream.codec_type === 'audio') {
    const bits = stream.bits_per_sample || Number(stream.bits_per_raw_sample) || null;
    return { codec, bytes, channels: stream.channels, rate: Number(stream.sample_rate), bits };
  }
  if (stream.codec_type !== 'video') return {};
  const turned = stream.side_data_list?.find(({ rotation }) => rotation !== undefined)?.rotation ?? 0;
  return {
    ...{ codec, bytes, width: stream.width, height: stream.height, aspect: stream.sample_aspect_ratio },
    packets: Number(stream.nb_read_packets),
    rate: stream.r_frame_rate,
    // Its angle is anti-clockwise.
    rotation: (360 - turned) % 360,
    seconds: stream.duration === undefined ? null : Number(stream.duration).toFixed(3),
    // For H.264 it looks into the stream: that is not what the container tells.
    scan: stream.codec_name === 'h264' ? null : scanOf(stream.field_order),
  };
}

function scanOf(order: string | undefined): string | null {
  if (order === undefined || order === 'unknown') return null;
  return order === 'progressive' ? 'progressive' : 'interlaced';
}
