import type { Ratio, Scan } from '../../model.ts';
import { rateOfPace, ratio } from './bmff-pace.ts';
import { find, i32, type Part, type Tell, u8, u16, u32, version } from './bmff-parts.ts';
import type { Samples } from './bmff-samples.ts';
import { codecOf, entryParts, type Trak } from './bmff-trak.ts';
import type { PictureTrack } from './structure.ts';

/** Fixed fields of a visual sample description, ISO/IEC 14496-12 clause 12.1.3, the same in QuickTime. */
const FIXED_BYTES = 78;

/** Lines that D-10 stores for those it shows (SMPTE ST 356): the rest is vertical blanking. */
const D10_LINES: Readonly<Record<number, number>> = { 608: 576, 512: 486 };
const D10_CODECS = /^mx[345][np]$/;

/** DV of 25 and 50 Mb/s (IEC 61834, SMPTE ST 314) is coded in fields, whatever the wrapping says of it. */
const FIELD_CODED = /^(dvc |dvcp|dvp[np]|dv5[np])$/;

/** What the code alone states of uncompressed picture: bits per sample, chroma (QuickTime File Format, uncompressed Y'CbCr). */
const UNCOMPRESSED: Readonly<Record<string, readonly [bits: number, chroma: string | null]>> = {
  v210: [10, '4:2:2'],
  v216: [16, '4:2:2'],
  v308: [8, '4:4:4'],
  v408: [8, '4:4:4'],
  v410: [10, '4:4:4'],
  '2vuy': [8, '4:2:2'],
  '2Vuy': [8, '4:2:2'],
  yuvs: [8, '4:2:2'],
  yuv2: [8, '4:2:2'],
  UYVY: [8, '4:2:2'],
  r210: [10, null],
  b48r: [16, null],
  b64a: [16, null],
};

/**
 * A picture track. One sample alone is a still: it has neither rate nor length.
 * @param movie the movie header, whose matrix applies on top of the track's
 */
export function pictureTrack(trak: Trak, samples: Samples, movie: Part | null, tell: Tell): PictureTrack {
  const { entry } = trak;
  const parts = entry === null ? [] : entryParts(entry, FIXED_BYTES);
  const codecId = codecOf(entry, parts);
  const still = samples.count === 1;
  const rates = still ? { frameRate: null, variableRate: null } : rateOfPace(samples.pace);
  const moving = !still && samples.ticks !== null && trak.timescale > 0;
  const [bitDepth, chroma] = UNCOMPRESSED[codecId ?? ''] ?? [null, null];
  return {
    type: 'picture',
    codecId,
    ...rasterOf(trak, codecId, tell),
    pixelAspect: pixelAspectOf(find(parts, 'pasp')),
    rotation: rotationOf(trak.header, movie),
    ...rates,
    frames: samples.count,
    durationSeconds: moving ? (samples.ticks ?? 0) / trak.timescale : null,
    bytes: samples.bytes,
    scan: scanOf(find(parts, 'fiel'), codecId),
    bitDepth,
    chroma,
  };
}

/** Of the sample description; the track header, which may be scaled for showing, only where that has none. */
function rasterOf(
  { entry, header }: Trak,
  codecId: string | null,
  tell: Tell,
): { width: number | null; height: number | null } {
  const stored = entry === null ? [0, 0] : [u16(entry, 24), u16(entry, 26)];
  const [width = 0, height = 0] = stored;
  if (width > 0 && height > 0) {
    const lines = D10_CODECS.test(codecId ?? '') ? D10_LINES[height] : undefined;
    return { width, height: lines ?? height };
  }
  const at = header !== null && version(header) === 1 ? 88 : 76;
  const shown =
    header === null ? [0, 0] : [Math.round(u32(header, at) / 65_536), Math.round(u32(header, at + 4) / 65_536)];
  const [shownWidth = 0, shownHeight = 0] = shown;
  if (shownWidth > 0 && shownHeight > 0) return { width: shownWidth, height: shownHeight };
  tell('a picture track states no raster');
  return { width: null, height: null };
}

function pixelAspectOf(pasp: Part | null): Ratio | null {
  return pasp === null ? null : ratio(u32(pasp, 0), u32(pasp, 4));
}

/** QuickTime and JPEG 2000 (ISO/IEC 15444-3) box `fiel`: fields in a sample, 1 or 2. */
function scanOf(fiel: Part | null, codecId: string | null): Scan | null {
  if (FIELD_CODED.test(codecId ?? '')) return 'interlaced';
  const fields = fiel === null ? 0 : u8(fiel, 0);
  if (fields === 2) return 'interlaced';
  return fields === 1 ? 'progressive' : null;
}

type Matrix = readonly [a: number, b: number, c: number, d: number];

const UNTURNED: Matrix = [1, 0, 0, 1];

/**
 * Clause 8.3.2 (track header) and 8.2.2 (movie header): a point (x, y), y downwards, goes to (ax + cy, bx + dy), by the
 * track's matrix and then by the movie's. Quarter turns only; anything else, mirroring too, is `null`.
 */
function rotationOf(header: Part | null, movie: Part | null): 0 | 90 | 180 | 270 | null {
  if (header === null) return null;
  const track = matrixOf(header, version(header) === 1 ? 52 : 40);
  const whole = movie === null ? UNTURNED : matrixOf(movie, version(movie) === 1 ? 48 : 36);
  const [a, b, c, d] = product(track, whole);
  const small = 1e-3 * Math.max(Math.abs(a), Math.abs(b), Math.abs(c), Math.abs(d));
  const straight = Math.abs(b) <= small && Math.abs(c) <= small;
  const crossed = Math.abs(a) <= small && Math.abs(d) <= small;
  if (straight && a > 0 && d > 0) return 0;
  if (straight && a < 0 && d < 0) return 180;
  if (crossed && b > 0 && c < 0) return 90;
  return crossed && b < 0 && c > 0 ? 270 : null;
}

function matrixOf(header: Part, at: number): Matrix {
  const matrix: Matrix = [i32(header, at), i32(header, at + 4), i32(header, at + 12), i32(header, at + 16)];
  return matrix.every((value) => value === 0) ? UNTURNED : matrix;
}

function product([a, b, c, d]: Matrix, [e, f, g, h]: Matrix): Matrix {
  return [a * e + b * g, a * f + b * h, c * e + d * g, c * f + d * h];
}
