import { spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Bench, bench, type ClipJson, copySlowly, media, type Running, until } from './headroomd.ts';

/**
 * The main job, whole: the real program watches a real folder, real encodes are copied in as cards are copied, and what
 * it says is held against ffprobe (an outside opinion) and against the files themselves.
 */
let place: Bench;

beforeEach(() => {
  place = bench();
});
afterEach(() => place.clear());

const single = readdirSync(media).filter((name) => statSync(join(media, name)).isFile());
const frames = readdirSync(media).find((name) => statSync(join(media, name)).isDirectory()) ?? '';

interface FfprobeStream {
  codec_type: string;
  width?: number;
  height?: number;
  r_frame_rate?: string;
  nb_frames?: string;
  tags?: { timecode?: string };
}

const vc3 = 'SMPTE ST 2019-1 (VC-3), as in FFmpeg 5.1.9 libavcodec/dnxhddata.c';
const dv25 = 'IEC 61834 and SMPTE ST 314, as in FFmpeg 5.1.9 libavcodec/dv_profile.c';

/** Published bytes of a frame; what headroomd says must be the same to the byte. */
const publishedFrames: readonly { name: string; codec: string; frameBytes: number; source: string }[] = [
  { name: 'B001C001_270211.mxf', codec: 'DNxHR', frameBytes: 81_920, source: `DNxHR LB 1280x720: ${vc3}` },
  { name: 'M002C009_270211.mov', codec: 'DNxHD', frameBytes: 188_416, source: `DNxHD CID 1253: ${vc3}` },
  { name: 'tape07_scene12.dv', codec: 'DV', frameBytes: 144_000, source: `DV25 625/50: ${dv25}` },
  { name: 'tape07_scene13.avi', codec: 'DV', frameBytes: 144_000, source: `DV25 625/50: ${dv25}` },
  { name: 'tape07_scene14.mov', codec: 'DV', frameBytes: 144_000, source: `DV25 625/50: ${dv25}` },
  {
    name: 'capture_0001.mov',
    codec: 'v210',
    frameBytes: 21_504,
    source: 'v210 100x56: ceil(100/48) x 128 x 56, as in FFmpeg 5.1.9 libavcodec/v210enc.c',
  },
];

/** Exact rate as ffprobe tells it, `num/den`; a phone's variable rate has none that is true. */
function rateOf(clip: ClipJson): string | null {
  if (clip.frameRate === null || clip.name === 'IMG_0217.MOV') return null;
  return `${clip.frameRate.num}/${clip.frameRate.den}`;
}

function ffprobe(path: string): {
  streams: FfprobeStream[];
  format: { duration?: string; size: string; tags?: { timecode?: string } };
} {
  const done = spawnSync('ffprobe', ['-v', 'error', '-of', 'json', '-show_streams', '-show_format', path], {
    encoding: 'utf8',
  });
  if (done.status !== 0) throw new Error(`ffprobe (Debian package ffmpeg) cannot read ${path}: ${done.stderr}`);
  return JSON.parse(done.stdout);
}

function clipOf(clips: readonly ClipJson[], name: string): ClipJson {
  const found = clips.filter((clip) => clip.name === name);
  expect(found.map((clip) => clip.name)).toEqual([name]);
  return found[0] as ClipJson;
}

async function copyCard(folder: string): Promise<void> {
  mkdirSync(folder, { recursive: true });
  await Promise.all(
    single.map((name, index) => copySlowly(join(media, name), join(folder, name), 3, 100 + 40 * (index % 5))),
  );
  cpSync(join(media, frames), join(folder, frames), { recursive: true });
}

function allReady(daemon: Running): boolean {
  const { arrivals } = daemon.status();
  return arrivals.every(({ state }) => state === 'ready');
}

describe('a card is copied in', () => {
  test('every clip is told as it is', async () => {
    const card = join(place.volume, 'Saltmarsh', 'Footage', 'Card 001');
    mkdirSync(card, { recursive: true });
    const daemon = await place.start();
    await copyCard(card);
    await until('all are clips', () => daemon.clips('Saltmarsh').length === single.length + 1 && allReady(daemon), 60);
    const clips = daemon.clips('Saltmarsh');
    for (const name of single) {
      const clip = clipOf(clips, name);
      const outside = ffprobe(join(card, name));
      const picture = outside.streams.find(({ codec_type }) => codec_type === 'video');
      expect(clip.bytes, name).toBe(statSync(join(card, name)).size);
      expect(clip.audioTracks ?? 0, `${name}: audio tracks`).toBe(
        outside.streams.filter(({ codec_type }) => codec_type === 'audio').length,
      );
      expect(clip.width, `${name}: width`).toBe(picture?.width ?? null);
      expect(clip.paths, name).toEqual([`Saltmarsh/Footage/Card 001/${name}`]);
      const timecode = [outside.format, ...outside.streams]
        .map(({ tags }) => tags?.timecode)
        .find((text) => text !== undefined);
      expect(clip.startTimecode, `${name}: timecode`).toBe(timecode ?? null);
      if (rateOf(clip) !== null) expect(rateOf(clip), `${name}: rate`).toBe(picture?.r_frame_rate);
      if (picture?.nb_frames !== undefined) expect(clip.frames, `${name}: frames`).toBe(Number(picture.nb_frames));
      const seconds = Number(outside.format.duration);
      expect(
        Math.abs((clip.durationSeconds ?? 0) - seconds),
        `${name}: ${clip.durationSeconds} s, ffprobe ${seconds} s`,
      ).toBeLessThan(0.06);
    }
    for (const { name, codec, frameBytes, source } of publishedFrames) {
      const clip = clipOf(clips, name);
      expect(clip.codec, name).toMatch(codec);
      expect((clip.videoBytes ?? 0) / (clip.frames ?? 0), source).toBe(frameBytes);
    }
    const sequence = clips.find((clip) => clip.fileCount === 24);
    expect(sequence).toMatchObject({ codec: 'DPX', frames: 24, kind: 'original', missingFrames: [] });
    expect(sequence?.name).toMatch(/\[\d+-\d+\]\.dpx$/);
    expect(await daemon.end()).toBe(0);
  });

  test('footprint, capacity, demand and exposure follow', async () => {
    const names = ['a', 'b', 'c', 'd', 'e'].map((camera) => `tidewater-${camera}.mov`);
    const footage = join(place.volume, 'Tidewater Sessions', 'Footage');
    mkdirSync(footage, { recursive: true });
    const daemon = await place.start();
    await Promise.all(names.map((name) => copySlowly(join(media, name), join(footage, name))));
    const bytes = names.map((name) => statSync(join(media, name)).size).reduce((a, b) => a + b);
    await until('five clips', () => daemon.status().projects[0]?.clips === 5 && allReady(daemon));
    const { projects, volumes } = daemon.status();
    expect(projects[0]).toMatchObject({ name: 'Tidewater Sessions', bytes, footageBytes: bytes, otherBytes: 0 });
    expect(projects[0]?.safety).toMatchObject({ exposedBytes: bytes, exposedClips: 5 });
    const group = projects[0]?.multicam[0];
    expect(group).toMatchObject({ angles: 5, cameras: ['A', 'B', 'C', 'D', 'E'] });
    // Five streams together, each of its bytes over its seconds as ffprobe tells them.
    const rates = names
      .map((name) => ffprobe(join(media, name)).format)
      .map(({ duration, size }) => Number(size) / Number(duration));
    const together = rates.reduce((a, b) => a + b);
    expect(group?.demandBps).toBeGreaterThan(together * 0.98);
    expect(group?.demandBps).toBeLessThan(together * 1.02);
    const df = spawnSync('df', ['--output=avail,size', '-B1', place.volume], { encoding: 'utf8' })
      .stdout.split('\n')[1]
      ?.trim()
      .split(/\s+/);
    expect(volumes[0]?.capacity.availableBytes).toBeGreaterThan(Number(df?.[0]) * 0.98);
    expect(volumes[0]?.capacity.availableBytes).toBeLessThan(Number(df?.[0]) * 1.02);
    expect(volumes[0]?.capacity.totalBytes).toBe(Number(df?.[1]));
    expect(volumes[0]?.safety).toMatchObject({ exposedBytes: bytes, exposedClips: 5 });
  });

  test('deleting, renaming and replacing are followed', async () => {
    const footage = join(place.volume, 'Saltmarsh', 'Footage');
    mkdirSync(footage, { recursive: true });
    cpSync(join(media, 'tidewater-a.mov'), join(footage, 'one.mov'));
    cpSync(join(media, 'tidewater-b.mov'), join(footage, 'two.mov'));
    const daemon = await place.start();
    await until('both are there', () => daemon.clips().length === 2);
    spawnSync('mv', [join(footage, 'one.mov'), join(footage, 'first take.mov')]);
    spawnSync('rm', [join(footage, 'two.mov')]);
    await until(
      'the rename is seen',
      () =>
        daemon
          .clips()
          .map(({ name }) => name)
          .join() === 'first take.mov',
      15,
    );
    cpSync(join(media, 'tidewater-c.mov'), join(footage, 'first take.mov'));
    const size = statSync(join(media, 'tidewater-c.mov')).size;
    await until(
      'the new content is read',
      () => daemon.clips()[0]?.bytes === size && daemon.clips()[0]?.reel === 'C001',
      15,
    );
    expect(daemon.status().projects[0]?.bytes).toBe(size);
  });
});

describe('an untidy volume', () => {
  test('system folders are nothing, trash is trash, caches are shared, loose files belong nowhere', async () => {
    const put = (...path: string[]) => {
      const file = join(place.volume, ...path);
      mkdirSync(join(file, '..'), { recursive: true });
      writeFileSync(file, 'x'.repeat(1000));
    };
    for (const name of ['lost+found', 'System Volume Information', '.Spotlight-V100', '.fseventsd', '.snapshots'])
      put(name, 'a.mov');
    put('.Trash-1000', 'files', 'old.mov');
    put('$RECYCLE.BIN', 'old.mov');
    put('renders', 'Saltmarsh.mov');
    put('Cache Files', 'peak.pek');
    put('Saltmarsh', 'Footage', '._A001.mov');
    put('Saltmarsh', '.DS_Store');
    put('Saltmarsh', 'edit.prproj');
    cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'loose.mov'));
    const daemon = await place.start();
    await until('the loose clip is there', () => daemon.clips().some(({ name }) => name === 'loose.mov'));
    await sleep(1000);
    const { projects } = daemon.status();
    expect(projects.map(({ name }) => name)).toEqual(['Saltmarsh']);
    expect(projects[0]).toMatchObject({ bytes: 1000, footageBytes: 0, otherBytes: 1000, clips: 0 });
    expect(daemon.clips().map(({ name, project }) => ({ name, project }))).toEqual([
      { name: 'loose.mov', project: null },
    ]);
    expect(daemon.log()).not.toMatch(/lost\+found|Spotlight/);
    const areas = daemon.status().volumes[0]?.areas.map(({ area, bytes }) => [area, bytes]);
    const loose = statSync(join(media, 'tidewater-a.mov')).size;
    expect(new Map(areas as [string, number][])).toEqual(
      new Map([
        ['shared', 2000],
        ['trash', 2000],
        ['unassigned', loose],
      ]),
    );
    expect(await daemon.end('SIGINT')).toBe(0);
  });

  test('a folder that is itself one project is taken as one, and the start says so with the line that would change it', async () => {
    for (const part of ['Footage', 'Audio', 'Exports']) mkdirSync(join(place.volume, part), { recursive: true });
    cpSync(join(media, 'tidewater-a.mov'), join(place.volume, 'Footage', 'A001C001.mov'));
    const daemon = await place.start();
    await until('the clip is there', () => daemon.clips().length === 1);
    expect(daemon.clips()[0]?.project).toBe('stripe');
    expect(daemon.log()).toMatch(/the folder itself is one project/);
    expect(daemon.log()).toContain('projects = \\"*\\"');
  });

  test('client and year nesting is followed when it is set', async () => {
    const footage = join(place.volume, 'Client A', '2027', 'Lock Keepers', 'Footage');
    mkdirSync(footage, { recursive: true });
    cpSync(join(media, 'tidewater-a.mov'), join(footage, 'A001C001.mov'));
    const config = join(place.folder, 'headroomd.toml');
    writeFileSync(config, `[[volume]]\nname = "stripe"\npath = "${place.volume}"\nprojects = "*/*/*"\n`);
    const daemon = await place.start(['--config', config]);
    await until('the clip is there', () => daemon.clips().length === 1);
    expect(daemon.clips()[0]?.project).toBe('Client A/2027/Lock Keepers');
    expect(daemon.status().volumes[0]?.name).toBe('stripe');
  });
});
