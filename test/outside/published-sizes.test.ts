import { mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { createProber } from '../../src/rim/probe/pool.ts';
import { dpxFrame, dvStoredBitrate, published } from './published-rates.ts';
import { encode, factsOf, ffprobe } from './tools.ts';

/** Real encodes, probed as the daemon does: bytes of picture over frames is the published size of a frame, to the byte. */

const scratch = mkdtempSync(join(tmpdir(), 'headroomd-published-'));
const prober = createProber({ workers: 1, now: () => performance.now() });
afterAll(async () => {
  await prober.close();
  rmSync(scratch, { recursive: true, force: true });
});

const cases = published.flatMap((entry) => entry.containers.map((container) => ({ ...entry, container })));

describe('published frame sizes', () => {
  test.each(cases)('$name in $container at $rate.num/$rate.den: $frameBytes bytes', async (entry) => {
    const path = join(scratch, `clip-${cases.indexOf(entry)}.${entry.container}`);
    const frames = entry.width > 3000 ? 2 : 5;
    encode({ ...entry, frames }, entry.encode, path);
    const facts = await factsOf(prober, path);
    expect(facts.frames).toBe(frames);
    expect((facts.videoBytes ?? 0) / frames).toBe(entry.frameBytes);
    expect(facts.videoBitrate).toBe(Math.round((entry.frameBytes * 8 * entry.rate.num) / entry.rate.den));
    expect(facts).toMatchObject({ codec: entry.codec, width: entry.width, frameRate: entry.rate, variableRate: false });
    rmSync(path);
  });

  test('one frame is enough', async () => {
    const path = join(scratch, 'one.mxf');
    encode(
      { width: 1920, height: 1080, rate: { num: 30000, den: 1001 }, frames: 1 },
      ['-c:v', 'dnxhd', '-b:v', '145M', '-pix_fmt', 'yuv422p'],
      path,
    );
    expect(await factsOf(prober, path)).toMatchObject({ frames: 1, videoBytes: 606_208 });
  });

  test('"25 Mb/s" DV takes 28.8 Mb/s from the disk', async () => {
    const path = join(scratch, 'tape.dv');
    encode(
      { width: 720, height: 576, rate: { num: 25, den: 1 }, frames: 10 },
      ['-c:v', 'dvvideo', '-pix_fmt', 'yuv420p'],
      path,
    );
    expect(await factsOf(prober, path)).toMatchObject({
      videoBitrate: dvStoredBitrate,
      overallBitrate: dvStoredBitrate,
    });
  });

  test('DPX: image and header', async () => {
    const path = join(scratch, 'frame.0000001.dpx');
    encode(
      { ...dpxFrame, rate: { num: 24, den: 1 }, frames: 1 },
      ['-c:v', 'dpx', '-pix_fmt', 'gbrp10le', '-update', '1'],
      path,
    );
    const facts = await factsOf(prober, path);
    expect(facts).toMatchObject({ codec: 'DPX', width: 1920, height: 1080, bitDepth: 10, frames: 1, frameRate: null });
    expect(facts.videoBytes).toBe(dpxFrame.imageBytes + dpxFrame.headerBytes);
  });
});

describe('declared and real', () => {
  // The header says 2 Mb/s (its buffer model); the packets make less. The sample table has the truth.
  test('H.264 with a declared constant rate', async () => {
    const path = join(scratch, 'declared.mp4');
    const args = ['-c:v', 'libx264', '-b:v', '2M', '-x264-params', 'nal-hrd=cbr:vbv-maxrate=2000:vbv-bufsize=2000'];
    encode({ width: 640, height: 360, rate: { num: 25, den: 1 }, frames: 25 }, args, path);
    const packets = ffprobe(path).packets.reduce((sum, packet) => sum + Number(packet.size), 0);
    const facts = await factsOf(prober, path);
    expect(facts.videoBytes).toBe(packets);
    expect(facts.videoBitrate).not.toBe(2_000_000);
  });

  // A header that says 50 Mb/s over packets that make more: the whole file over the duration is what a disk must give.
  test('MPEG-2 in MXF whose packets are above the declared rate', async () => {
    const path = join(scratch, 'above.mxf');
    const coding = '-c:v mpeg2video -pix_fmt yuv422p -q:v 2 -b:v 50M -maxrate 50M -bufsize 17825792 -g 12';
    const args = ['-vf', 'noise=alls=40:allf=t', ...coding.split(' ')];
    encode({ width: 1920, height: 1080, rate: { num: 25, den: 1 }, frames: 12 }, args, path);
    const packets = ffprobe(path).packets.reduce((sum, packet) => sum + Number(packet.size), 0);
    const facts = await factsOf(prober, path);
    const seconds = 12 / 25;
    expect((packets * 8) / seconds).toBeGreaterThan(60_000_000);
    expect(facts.videoBitrate).toBeNull();
    expect(facts.overallBitrate).toBe(Math.round((statSync(path).size * 8) / seconds));
    expect(Math.abs((facts.overallBitrate ?? 0) / ((packets * 8) / seconds) - 1)).toBeLessThan(0.01);
  });
});
