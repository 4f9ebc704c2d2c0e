import { execFileSync } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { ClipFacts } from '../../src/core/model.ts';
import { createProber } from '../../src/rim/probe/pool.ts';
import { type Ffprobe, type FfprobeStream, factsOf, ffprobe, run } from './tools.ts';

/**
 * Every committed clip: what the product says is what ffprobe says, wherever ffprobe says anything. ffprobe is a program of
 * other origin than the probe library. Where the two differ the case is listed below with its reason, and both answers are
 * held, so that the list cannot rot.
 */

const media = fileURLToPath(new URL('../fixtures/media', import.meta.url));
/** The frames by their first. */
const clips = filesIn(media).filter((name) => !name.endsWith('.dpx') || name.endsWith('.0086400.dpx'));

/** ffprobe's names, as families. */
const FAMILIES: Readonly<Record<string, RegExp>> = {
  prores: /^ProRes /,
  dnxhd: /^DNxH[DR]/,
  mpeg2video: /^MPEG-2$/,
  h264: /^H\.264$/,
  hevc: /^HEVC$/,
  dvvideo: /^DV$/,
  v210: /^v210$/,
  pcm_s24le: /^PCM$/,
  dpx: /^DPX$/,
};

type Field = keyof typeof answers;

/** What ffprobe says of a fact, in the product's terms; `null` where it says nothing. */
const answers = {
  codec: (told: Ffprobe) => essence(told)?.codec_name ?? null,
  width: (told: Ffprobe) => picture(told)?.width ?? null,
  height: (told: Ffprobe) => picture(told)?.height ?? null,
  frameRate: (told: Ffprobe) => rateOf(picture(told)),
  frames: (told: Ffprobe) => numberOf(picture(told)?.nb_read_packets),
  videoBytes: (told: Ffprobe) => sizeOfPackets(told),
  durationSeconds: (told: Ffprobe) => numberOf(essence(told)?.duration),
  scan: (told: Ffprobe) => scanOf(picture(told)),
  bitDepth: (told: Ffprobe) => depthOf(told),
  startTimecode: (told: Ffprobe) => tag(told, 'timecode'),
  reel: (told: Ffprobe) => tag(told, 'reel_name'),
  recordedAt: (told: Ffprobe) => tag(told, 'creation_time') ?? tag(told, 'modification_date'),
  audioTracks: (told: Ffprobe) => sounds(told).length,
  audioChannels: (told: Ffprobe) => sounds(told).reduce((sum, stream) => sum + (stream.channels ?? 0), 0),
};

interface Disagreement {
  clip: string;
  field: Field;
  ours: unknown;
  theirs: unknown;
  reason: string;
}

const DPX = 'N001C001_270303/N001C001_270303.0086400.dpx';
const STILL = 'ffprobe invents 25 frames a second for any still; a DPX file may tell a rate, this one does not';
const DAY = 'ffprobe puts only the time of day of the sound header (EBU Tech 3285) here; ours has its date as well';
const NO_ZONE = 'MXF times have no zone (SMPTE ST 377-1); ffprobe prints them as UTC, ours is what the file tells';
const FIEL = 'DV25 is coded in fields (IEC 61834); ffprobe repeats the "progressive" of the QuickTime wrapping';

const disagreements: readonly Disagreement[] = [
  { clip: DPX, field: 'frameRate', ours: null, theirs: '25/1', reason: STILL },
  { clip: 'SM12-T003.WAV', field: 'recordedAt', ours: '2027-02-11T10:16:30', theirs: '10:16:30', reason: DAY },
  ...[
    ['B001C001_270211.mxf', '2027-02-11T10:15:00.000'] as const,
    ['C0001.MXF', '2027-02-11T16:20:00.000'] as const,
  ].map(([clip, ours]) => ({ clip, field: 'recordedAt' as const, ours, theirs: `${ours}000Z`, reason: NO_ZONE })),
  { clip: 'tape07_scene14.mov', field: 'scan', ours: 'interlaced', theirs: 'progressive', reason: FIEL },
  {
    ...{ clip: 'IMG_0217.MOV', field: 'frameRate', ours: '25/1', theirs: '700/23' },
    reason: 'the rate varies: ours is that of most frames, marked as varying; ffprobe tells the average',
  },
  {
    ...{ clip: 'IMG_0217.MOV', field: 'recordedAt', ours: '2027-02-12T13:01:00+01:00', theirs: '2027-02-14T08:00:00Z' },
    reason: 'ours is the own key of the telephone; the container has the date of a later copy',
  },
  {
    ...{ clip: 'C0001.MXF', field: 'videoBytes', ours: null, theirs: 331_892 },
    reason: 'long GOP in MXF: unknown without reading the whole file, and the declared rate is not believed',
  },
];

const scratch = mkdtempSync(join(tmpdir(), 'headroomd-ffprobe-'));
const prober = createProber({ workers: 1, now: () => performance.now() });
afterAll(async () => {
  await prober.close();
  rmSync(scratch, { recursive: true, force: true });
});

function filesIn(folder: string): string[] {
  const names = readdirSync(folder, { recursive: true, encoding: 'utf8' });
  return names.filter((name) => statSync(join(folder, name)).isFile()).sort();
}

function essence(told: Ffprobe): FfprobeStream | undefined {
  return picture(told) ?? sounds(told)[0];
}

function picture(told: Ffprobe): FfprobeStream | undefined {
  return told.streams.find((stream) => stream.codec_type === 'video');
}

function sounds(told: Ffprobe): FfprobeStream[] {
  return told.streams.filter((stream) => stream.codec_type === 'audio');
}

function sizeOfPackets(told: Ffprobe): number | null {
  const packets = told.packets.filter((packet) => packet.codec_type === 'video');
  return packets.length === 0 ? null : packets.reduce((sum, packet) => sum + Number(packet.size), 0);
}

/** `avg_frame_rate` is the rate over the whole clip; `r_frame_rate` the finest raster of a variable one. */
function rateOf(stream: FfprobeStream | undefined): string | null {
  return stream?.avg_frame_rate === undefined || stream.avg_frame_rate === '0/0' ? null : stream.avg_frame_rate;
}

function scanOf(stream: FfprobeStream | undefined): string | null {
  const order = stream?.field_order;
  if (order === undefined || order === 'unknown') return null;
  return order === 'progressive' ? 'progressive' : 'interlaced';
}

function depthOf(told: Ffprobe): number | null {
  const pixels = picture(told)?.pix_fmt;
  if (pixels !== undefined) return Number(/p(\d\d)(le|be)$/.exec(pixels)?.[1] ?? 8);
  return numberOf(sounds(told)[0]?.bits_per_raw_sample);
}

function numberOf(told: string | undefined): number | null {
  const value = Number(told);
  return told === undefined || Number.isNaN(value) ? null : value;
}

function tag(told: Ffprobe, name: string): string | null {
  const places = [told.format.tags, ...told.streams.map((stream) => stream.tags)];
  return places.map((tags) => tags?.[name]).find((value) => value !== undefined) ?? null;
}

function ourAnswer(facts: ClipFacts, field: Field): unknown {
  if (field === 'frameRate') return facts.frameRate === null ? null : `${facts.frameRate.num}/${facts.frameRate.den}`;
  return facts[field];
}

/** Whether the two say the same: codecs by family, seconds to the millisecond they are stored in, times as instants. */
function agree(field: Field, ours: unknown, theirs: unknown): boolean {
  if (field === 'codec') return FAMILIES[String(theirs)]?.test(String(ours)) ?? false;
  if (field === 'durationSeconds') return typeof ours === 'number' && Math.abs(ours - Number(theirs)) < 0.001;
  if (field === 'recordedAt')
    return String(theirs).replace('.000000Z', 'Z') === ours || String(theirs).replace(' ', 'T') === ours;
  return ours === theirs;
}

describe.each(clips)('%s', (clip) => {
  let facts: ClipFacts;
  let told: Ffprobe;
  beforeAll(async () => {
    facts = await factsOf(prober, join(media, clip));
    told = ffprobe(join(media, clip));
  });

  test.each(Object.keys(answers) as Field[])('%s', (field) => {
    const [ours, theirs] = [ourAnswer(facts, field), answers[field](told)];
    const known = disagreements.find((each) => each.clip === clip && each.field === field);
    if (known !== undefined) {
      expect([ours, theirs], known.reason).toEqual([known.ours, known.theirs]);
      expect(agree(field, ours, theirs), `agree now: take it off the list (${known.reason})`).toBe(false);
    } else if (theirs !== null) {
      expect(agree(field, ours, theirs), `ours ${String(ours)}, ffprobe ${String(theirs)}`).toBe(true);
    }
  });
});

describe('the comparison itself', () => {
  test('covers every committed clip, and every entry of the list belongs to one', () => {
    expect(clips.length).toBe(20);
    expect(disagreements.filter(({ clip }) => !clips.includes(clip))).toEqual([]);
  });

  test('ffprobe has an answer for most facts, so that agreement means something', () => {
    const spoken = clips.flatMap((clip) => {
      const told = ffprobe(join(media, clip));
      return (Object.keys(answers) as Field[]).filter((field) => answers[field](told) !== null);
    });
    expect(spoken.length).toBeGreaterThan(200);
  });
});

describe('the fixtures', () => {
  test('stay under 4 MB in all', () => {
    const sizes = filesIn(media).map((name) => statSync(join(media, name)).size);
    expect(sizes.length).toBeGreaterThan(40);
    expect(sizes.reduce((sum, size) => sum + size, 0)).toBeLessThan(4_000_000);
  });

  test('are made by the committed script, which gives the same bytes each time', () => {
    run('ffmpeg', ['-version']);
    const script = join(media, '..', 'make-fixtures.sh');
    const made = ['once', 'again'].map((name) => join(scratch, name));
    for (const folder of made) execFileSync('sh', [script, folder], { stdio: 'ignore' });
    const [once = '', again = ''] = made;
    expect(filesIn(once)).toEqual(filesIn(media));
    const differ = filesIn(once).filter(
      (name) => !readFileSync(join(once, name)).equals(readFileSync(join(again, name))),
    );
    expect(differ).toEqual([]);
  });
});
