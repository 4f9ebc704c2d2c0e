import type { Ratio } from '../model.ts';

/** A picture as a shoot plan names it. `format`: what the trade calls the codec with its profile. */
export interface PictureFormat {
  format: string;
  width: number;
  height: number;
  frameRate: Ratio;
}

/** Bytes per second of a format, and whether real material may be less (`most`: a target that is not exceeded). */
export interface PublishedRate {
  bps: number;
  kind: 'exact' | 'most';
  source: string;
}

const MACROBLOCK = 16;
const VC3 = 'SMPTE ST 2019-1, resolution-independent compression IDs';

/** Macroblocks up to which each column of the targets below holds: SD, 720 lines, HD, and everything larger. */
const TARGET_COLUMNS = [1620, 3600, 8160, Number.POSITIVE_INFINITY];

/**
 * Bits per macroblock of the published target rates, rounded up: what the flavours are made to stay below. The codec's white paper,
 * appendix of target data rates (from memory, checked by scaling); the bitstream is SMPTE RDD 36.
 */
const TARGETS: Readonly<Record<string, readonly number[]>> = {
  prores422proxy: [297, 212, 187, 188],
  prores422lt: [692, 467, 420, 425],
  prores422: [1013, 678, 600, 609],
  prores422hq: [1508, 1023, 904, 911],
  prores4444: [2272, 1534, 1352, 1368],
  prores4444xq: [3408, 2290, 2030, 2052],
};

/** Bytes of a frame for each macroblock (FFmpeg 5.1.9, libavcodec/dnxhddata.c: packet scale). */
const PER_MACROBLOCK: Readonly<Record<string, number>> = {
  dnxhr444: 57_344 / 255,
  dnxhrhqx: 28_672 / 255,
  dnxhrhq: 28_672 / 255,
  dnxhrsq: 18_944 / 255,
  dnxhrlb: 5888 / 255,
};

/** Frames that are always as large, by raster. IEC 61834, SMPTE ST 314 and ST 370 (DV), as in FFmpeg 5.1.9 libavcodec/dv_profile.c. */
const FRAMES: Readonly<Record<string, number>> = {
  'dv25 720x480': 120_000,
  'dv25 720x576': 144_000,
  'dv50 720x480': 240_000,
  'dv50 720x576': 288_000,
  'dv100 1280x1080': 480_000,
  'dv100 1440x1080': 576_000,
};

/**
 * Published rate of a format; `null` where there is no table for it: camera formats with long groups of pictures are as large as their
 * maker and their content make them.
 */
export function publishedRate({ format, width, height, frameRate }: PictureFormat): PublishedRate | null {
  const name = format.toLowerCase().replace(/[^a-z0-9]/g, '');
  const fps = frameRate.num / frameRate.den;
  const macroblocks = Math.ceil(width / MACROBLOCK) * Math.ceil(height / MACROBLOCK);
  const bits = TARGETS[name]?.[TARGET_COLUMNS.findIndex((limit) => macroblocks <= limit)];
  if (bits !== undefined) {
    const source = "the codec's published target rates";
    return { bps: (bits * macroblocks * fps) / 8, kind: 'most', source };
  }
  const scale = PER_MACROBLOCK[name];
  if (scale !== undefined) return { bps: vc3FrameBytes(macroblocks, scale) * fps, kind: 'exact', source: VC3 };
  if (name === 'uncompressed10bit422' || name === 'v210') {
    // Six pixels in 16 bytes, lines padded to 48 pixels (QuickTime file format: v210).
    return { bps: Math.ceil(width / 48) * 128 * height * fps, kind: 'exact', source: 'its 16 bytes for six pixels' };
  }
  const frame = FRAMES[`${name} ${width}x${height}`];
  return frame === undefined ? null : { bps: frame * fps, kind: 'exact', source: 'IEC 61834, SMPTE ST 314 and ST 370' };
}

/** In steps of 4,096 bytes, 8,192 at least (FFmpeg 5.1.9, the same). */
function vc3FrameBytes(macroblocks: number, scale: number): number {
  const bytes = Math.floor(macroblocks * scale);
  return Math.max(8192, Math.floor((bytes + 2048) / 4096) * 4096);
}

/** Formats that `publishedRate` knows, as the trade writes them. */
export const PUBLISHED_FORMATS = [
  ...['ProRes 422 Proxy', 'ProRes 422 LT', 'ProRes 422', 'ProRes 422 HQ', 'ProRes 4444', 'ProRes 4444 XQ'],
  ...['DNxHR LB', 'DNxHR SQ', 'DNxHR HQ', 'DNxHR HQX', 'DNxHR 444'],
  ...['Uncompressed 10-bit 4:2:2', 'DV25', 'DV50', 'DV100'],
];
