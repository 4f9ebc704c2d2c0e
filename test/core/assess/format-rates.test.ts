import { describe, expect, test } from 'vitest';
import { PUBLISHED_FORMATS, publishedRate } from '../../../src/core/assess/format-rates.ts';

const rate = (format: string, width: number, height: number, num: number, den = 1) =>
  publishedRate({ format, width, height, frameRate: { num, den } });

describe('published rates', () => {
  // Target data rates of the codec's white paper, Mb/s (from memory; cross-checked by scaling): what the flavours stay below.
  test.each([
    ['ProRes 422 Proxy', 1920, 1080, 25, 1, 38],
    ['ProRes 422 LT', 1920, 1080, 25, 1, 85],
    ['ProRes 422', 1920, 1080, 25, 1, 122],
    ['ProRes 422 HQ', 1920, 1080, 25, 1, 184],
    ['ProRes 4444', 1920, 1080, 25, 1, 275],
    ['ProRes 4444 XQ', 1920, 1080, 25, 1, 413],
    ['ProRes 422 HQ', 1920, 1080, 24000, 1001, 176],
    ['ProRes 422 HQ', 1280, 720, 25, 1, 92],
    ['ProRes 422 HQ', 720, 576, 25, 1, 61],
    ['ProRes 422', 3840, 2160, 25, 1, 492],
    ['ProRes 422 HQ', 3840, 2160, 25, 1, 737],
    ['ProRes 4444 XQ', 4096, 2160, 25, 1, 1769],
  ])('%s %ix%i at %i/%i: %i Mb/s', (format, width, height, num, den, mbps) => {
    const published = rate(format, width, height, num, den);
    expect(((published?.bps ?? 0) * 8) / 1e6 / mbps).toBeGreaterThan(0.99);
    expect(((published?.bps ?? 0) * 8) / 1e6 / mbps).toBeLessThan(1.02);
    expect(published?.kind).toBe('most');
  });

  // Bytes of a frame: SMPTE ST 2019-1 (resolution-independent IDs 1270 to 1274), measured with FFmpeg 5.1.9; v210: QuickTime file
  // format; DV: IEC 61834, SMPTE ST 314 and ST 370.
  test.each([
    ['DNxHR 444', 1920, 1080, 1_835_008],
    ['DNxHR 444', 3840, 2160, 7_286_784],
    ['DNxHR HQX', 1280, 720, 405_504],
    ['DNxHR HQX', 3840, 2160, 3_641_344],
    ['DNxHR HQ', 1920, 1080, 917_504],
    ['DNxHR SQ', 4096, 2160, 2_568_192],
    ['DNxHR LB', 1280, 720, 81_920],
    ['DNxHR LB', 3840, 2160, 749_568],
    ['Uncompressed 10-bit 4:2:2', 720, 576, 1_105_920],
    ['v210', 1920, 1080, 5_529_600],
    ['DV25', 720, 576, 144_000],
    ['DV100', 1440, 1080, 576_000],
  ])('%s %ix%i: %i bytes a frame', (format, width, height, frameBytes) => {
    expect(rate(format, width, height, 25)).toMatchObject({ bps: frameBytes * 25, kind: 'exact' });
  });

  test('of what nobody publishes nothing is told', () => {
    expect(rate('H.264', 3840, 2160, 25)).toBeNull();
    expect(rate('DV25', 1920, 1080, 25)).toBeNull();
  });
});

// Common practice, no source: one flash drive that gives 400 MB/s plays any single camera in SD, HD and 4K; 8K needs more. The
// published rates say where that is not so, and the exceptions are written down here one by one.
describe('one flash drive of 400 MB/s and a single camera', () => {
  const rasters = [
    [720, 576],
    [1280, 720],
    [1920, 1080],
    [3840, 2160],
    [4096, 2160],
  ] as const;
  const rates = [
    [24000, 1001],
    [25, 1],
    [30000, 1001],
    [50, 1],
    [60000, 1001],
  ] as const;
  const tooMuch = (wanted: readonly (readonly [number, number])[]) =>
    PUBLISHED_FORMATS.flatMap((format) =>
      wanted.flatMap(([width, height]) =>
        rates
          .filter(([num, den]) => (rate(format, width, height, num, den)?.bps ?? 0) > 400e6)
          .map(([num, den]) => `${format} ${width} ${(num / den).toFixed(2)}`),
      ),
    );

  test('the exceptions are uncompressed pictures and 4:4:4 at high rates', () => {
    expect(tooMuch(rasters)).toEqual([
      ...['3840 50.00', '3840 59.94', '4096 50.00', '4096 59.94'].map((at) => `ProRes 4444 XQ ${at}`),
      ...['3840 59.94', '4096 59.94'].map((at) => `DNxHR 444 ${at}`),
      ...['3840', '4096'].flatMap((width) =>
        ['23.98', '25.00', '29.97', '50.00', '59.94'].map((fps) => `Uncompressed 10-bit 4:2:2 ${width} ${fps}`),
      ),
    ]);
  });

  test('in 8K the heavier formats ask for more, at ordinary rates already', () => {
    expect(tooMuch([[7680, 4320]])).toEqual(
      expect.arrayContaining(['ProRes 4444 7680 25.00', 'ProRes 422 HQ 7680 29.97', 'DNxHR HQX 7680 29.97']),
    );
  });
});
