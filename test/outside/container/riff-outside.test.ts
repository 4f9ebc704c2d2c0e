import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join as path } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Structure } from '../../../src/core/intake/container/structure.ts';
import { containerName } from '../../../src/core/intake/format-name.ts';
import { hasSoundHeader } from '../../../src/core/intake/origin.ts';
import { type RawTrack, text } from '../../../src/core/intake/raw-track.ts';
import { formatTimecode, fromFrameNumber } from '../../../src/core/intake/timecode.ts';
import { look } from '../../core/intake/container/riff-files.ts';
import { effort } from '../../effort.ts';
import { built, encodes } from './riff-encodes.ts';

/**
 * What the readers say is what ffprobe and the mediainfo tool say, wherever these say anything and the container states it:
 * the fixtures, encodes of ffmpeg, and files with headers that ffmpeg does not write. Where they differ the case is listed
 * with its reason and both answers are held, so that the list cannot rot.
 */

const fixtures = fileURLToPath(new URL('../../fixtures/media/', import.meta.url));
const INSTALL = 'apt-get update && apt-get install -y --no-install-recommends ffmpeg mediainfo';

function run(tool: 'ffmpeg' | 'ffprobe' | 'mediainfo', ...args: string[]): string {
  const done = spawnSync(tool, args, { encoding: 'utf8', maxBuffer: 1 << 28 });
  if (done.error !== undefined) throw new Error(`${tool} cannot be run (${done.error.message}): ${INSTALL}`);
  if (done.status !== 0) throw new Error(`${tool} ${args.join(' ')}: ${done.stderr}`);
  return done.stdout;
}

const names = ['SM12-T003.WAV', 'tape07_scene13.avi', ...Object.keys(encodes), ...Object.keys(built)];

type Field = keyof ReturnType<typeof ours>;
type Answers = Partial<Record<Field, unknown>>;

interface Disagreement {
  file: string;
  field: Field;
  tool: 'ffprobe' | 'mediainfo';
  ours: unknown;
  theirs: unknown;
  reason: string;
}

/** mediainfo 23.04 ends with a memory fault when asked for JSON of 20 bits in three bytes. */
const CRASHES = new Set(['twenty.wav']);

const HEADERS = 'both take the whole file for the picture, headers as well';
const EMPTY = 'an empty chunk shows the frame before once more (AVI RIFF File Reference); ffprobe passes it over';
const INVENTED = 'ffprobe invents 25 frames a second for any still';
const ROUNDED = 'ffprobe gives the bytes that a sample takes, not its bits';
const FACT = 'mediainfo makes samples from bytes; the fact chunk counts them (RIFF New Multimedia Data Types, 1994)';
const FILLER = 'mediainfo counts the filler byte behind an odd length';

/** Bytes of picture, and of the headers in front of it. */
const stills: readonly (readonly [string, number, number])[] = [
  ['gray8.dpx', 2304, 1664],
  ['rgb8.dpx', 6912, 1664],
  ['rgba8.dpx', 9216, 1664],
  ['rgb10.dpx', 9216, 1664],
  ['rgb10-big.dpx', 9216, 1664],
  ['rgb12.dpx', 13_824, 1664],
  ['rgb16.dpx', 13_824, 1664],
  ['header.dpx', 9216, 2048],
  ['header-big.dpx', 9216, 2048],
];

const disagreements: readonly Disagreement[] = [
  ...['header.dpx', 'header-big.dpx'].map(
    (file) => ({ file, field: 'rate', tool: 'ffprobe', ours: '24/1', theirs: '25/1', reason: INVENTED }) as const,
  ),
  ...stills.flatMap(([file, picture, headers]) =>
    (['ffprobe', 'mediainfo'] as const).map(
      (tool) =>
        ({ file, field: 'pictureBytes', tool, ours: picture, theirs: picture + headers, reason: HEADERS }) as const,
    ),
  ),
  { file: 'dv-525.avi', field: 'frames', tool: 'ffprobe', ours: 16, theirs: 15, reason: EMPTY },
  { file: 'mp3.avi', field: 'frames', tool: 'ffprobe', ours: 52, theirs: 50, reason: EMPTY },
  { file: 'twenty.wav', field: 'depth', tool: 'ffprobe', ours: 20, theirs: 24, reason: ROUNDED },
  { file: 'adpcm.wav', field: 'samples', tool: 'mediainfo', ours: 24_492, theirs: 36_864, reason: FACT },
  { file: 'padded.wav', field: 'soundBytes', tool: 'mediainfo', ours: 28_803, theirs: 28_804, reason: FILLER },
];

/** What the structure says, in plain values. */
function ours({ tracks, container, createdAt, timecodes, ties }: Structure) {
  const picture = tracks.find((track) => track.type === 'picture');
  const sound = tracks.find((track) => track.type === 'sound');
  const [timecode] = timecodes;
  const label = timecode === undefined ? null : fromFrameNumber(timecode.frame, timecode.rate, timecode.drop);
  const aspect = picture?.pixelAspect ?? null;
  return {
    container,
    pictures: tracks.filter((track) => track.type === 'picture').length,
    sounds: tracks.filter((track) => track.type === 'sound').length,
    code: picture?.codecId ?? null,
    width: picture?.width ?? null,
    height: picture?.height ?? null,
    rate: picture?.frameRate == null ? null : `${picture.frameRate.num}/${picture.frameRate.den}`,
    frames: picture?.frames ?? null,
    pictureBytes: picture?.bytes ?? null,
    aspect: aspect === null ? null : Math.round((aspect.num / aspect.den) * 1000) / 1000,
    depth: (picture ?? sound)?.bitDepth ?? null,
    channels: sound?.channels ?? null,
    sampleRate: sound?.sampleRate ?? null,
    samples: sound?.samples ?? null,
    soundBytes: sound?.bytes ?? null,
    createdAt,
    begin: ties.timeReference,
    timecode: container === 'DPX' && label !== null ? formatTimecode(label) : null,
  };
}

function number(text: unknown): number | null {
  const value = text === undefined || text === '' ? Number.NaN : Number(text);
  return Number.isFinite(value) ? value : null;
}

interface Listed {
  type: 'packet' | 'frame';
  codec_type: string;
  size: string;
  tags?: Record<string, string>;
}

function ffprobe(file: string): Answers {
  const args = ['-v', 'error', '-count_packets', '-show_streams', '-show_format', '-show_packets', '-show_frames'];
  const raw = JSON.parse(run('ffprobe', ...args, '-of', 'json', file));
  // Asked for both, it lists packets and frames together.
  const listed: Listed[] = raw.packets_and_frames ?? [];
  const packets = listed.filter((one) => one.type === 'packet');
  const label = listed.find((one) => one.tags?.['timecode'] !== undefined)?.tags?.['timecode'];
  const stream = (type: string) => raw.streams.find((one: { codec_type: string }) => one.codec_type === type);
  const [picture, sound] = [stream('video'), stream('audio')];
  const bytes = (type: string) =>
    packets.filter((packet) => packet.codec_type === type).reduce((sum, packet) => sum + Number(packet.size), 0);
  const [across = 0, down = 0] = (picture?.sample_aspect_ratio ?? '0:0').split(':').map(Number);
  const tags = { ...raw.format.tags };
  return {
    pictures: raw.streams.filter((one: { codec_type: string }) => one.codec_type === 'video').length,
    sounds: raw.streams.filter((one: { codec_type: string }) => one.codec_type === 'audio').length,
    code: picture === undefined || /^\[0\]/.test(picture.codec_tag_string) ? null : picture.codec_tag_string,
    width: picture?.width ?? null,
    height: picture?.height ?? null,
    rate: picture?.r_frame_rate ?? null,
    frames: picture === undefined ? null : packets.filter((packet) => packet.codec_type === 'video').length,
    pictureBytes: picture === undefined ? null : bytes('video'),
    aspect: down === 0 ? null : Math.round((across / down) * 1000) / 1000,
    depth: number((picture ?? sound).bits_per_raw_sample),
    channels: sound?.channels ?? null,
    sampleRate: number(sound?.sample_rate),
    samples: sound?.time_base === `1/${sound?.sample_rate}` ? (sound?.duration_ts ?? null) : null,
    soundBytes: sound === undefined ? null : bytes('audio'),
    createdAt: tags.date === undefined ? null : [tags.date, tags.creation_time].filter(Boolean).join('T'),
    begin: number(tags.time_reference),
    timecode: label ?? null,
  };
}

function mediainfo(file: string): Answers {
  const tracks: Record<string, string>[] = JSON.parse(run('mediainfo', '--Output=JSON', file)).media.track;
  const of = (...types: string[]) => tracks.filter((track) => types.includes(track['@type'] ?? ''));
  const [general] = of('General') as [RawTrack | undefined];
  const [picture] = of('Video', 'Image');
  const [sound] = of('Audio');
  const rate = number(sound?.['SamplingRate']);
  const delay = sound?.['Delay_Source'] === 'Container (bext)' ? number(sound['Delay']) : null;
  return {
    // Under the names that the product has for what the library says.
    container: containerName(general, hasSoundHeader(general)),
    pictures: of('Video', 'Image').length,
    sounds: of('Audio').length,
    code: picture?.['CodecID'] ?? null,
    width: number(picture?.['Width']),
    height: number(picture?.['Height']),
    rate: picture?.['FrameRate_Num'] === undefined ? null : `${picture['FrameRate_Num']}/${picture['FrameRate_Den']}`,
    frames: number(picture?.['FrameCount']),
    pictureBytes: number(picture?.['StreamSize_Encoded'] ?? picture?.['StreamSize']),
    aspect: number(picture?.['PixelAspectRatio']),
    depth: number((picture ?? sound)?.['BitDepth']),
    channels: number(sound?.['Channels']),
    sampleRate: rate,
    samples: number(sound?.['SamplingCount']),
    soundBytes: number(sound?.['StreamSize']),
    createdAt: text(general, 'Encoded_Date')?.replace(' ', 'T') ?? null,
    begin: delay === null || rate === null ? null : Math.round(delay * rate),
  };
}

let folder = '';

beforeAll(() => {
  folder = mkdtempSync(path(tmpdir(), 'headroomd-riff-'));
  for (const [name, args] of Object.entries(encodes))
    run('ffmpeg', '-nostdin', '-loglevel', 'error', '-y', ...args, '-fflags', '+bitexact', path(folder, name));
  for (const [name, bytes] of Object.entries(built)) writeFileSync(path(folder, name), bytes);
}, 60_000 * effort);

afterAll(() => rmSync(folder, { recursive: true, force: true }));

function place(name: string): string {
  return path(/^(SM12|tape07)/.test(name) ? fixtures : folder, name);
}

describe.each([
  ['ffprobe', ffprobe],
  ['mediainfo', mediainfo],
] as const)('%s', (tool, ask) => {
  test.each(names.filter((name) => tool === 'ffprobe' || !CRASHES.has(name)))('%s', (name) => {
    const { structure, reads, bytes } = look(new Uint8Array(readFileSync(place(name))), name);
    expect(structure.troubles).toEqual([]);
    expect([reads <= 6, bytes <= 102_400]).toEqual([true, true]);
    const own = ours(structure);
    const answers: Answers = ask(place(name));
    const compared = (Object.keys(answers) as Field[]).filter(
      (field) => own[field] !== null && answers[field] !== null,
    );
    expect(compared.length).toBeGreaterThanOrEqual(6);
    const found = compared
      .filter((field) => own[field] !== answers[field])
      .map((field) => ({ field, ours: own[field], theirs: answers[field] }));
    const known = disagreements
      .filter((one) => one.tool === tool && one.file === name)
      .map(({ field, ours: mine, theirs }) => ({ field, ours: mine, theirs }));
    expect(found).toEqual(known);
  });
});
