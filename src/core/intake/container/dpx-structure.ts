import type { Ratio } from '../../model.ts';
import { exact } from '../frame-rate.ts';
import { isoDate } from '../origin.ts';
import { dpxTimecode } from './dpx-timecode.ts';
import { count, fourcc, type Read, u32be, u32le } from './reading.ts';
import { NO_TIES, type PictureTrack, type Structure } from './structure.ts';

/*
 * A DPX frame, SMPTE ST 268-1: file, image, orientation, film and television header, in this order and at fixed places, then
 * room for the user, then the picture. A field that is not set has all its bits set; writers also leave zeros. Headers from the
 * film header on may be missing: then the picture begins earlier.
 */
const DATE = 136;
const ORIENTATION = 768;
const WIDTH = 772;
const HEIGHT = 776;
/** In the first image element. */
const DESCRIPTOR = 800;
const BIT_DEPTH = 803;
const IMAGE_END = 852;
const PIXEL_ASPECT = 1628;
const ORIENTATION_END = 1664;
const FILM_RATE = 1724;
const FILM_END = 1920;
const TIMECODE = 1920;
const INTERLACE = 1928;
const TELEVISION_RATE = 1940;
const TELEVISION_END = 2048;

const UNSET = 0xffff_ffff;
const MAX_SIDE = 65_536;
const DEPTHS = new Set([1, 8, 10, 12, 16, 32, 64]);
/** Component sets of table 1 that tell how colour is sampled: CbYCrY and CbYCr. */
const CHROMA: Readonly<Record<number, string>> = { 100: '4:2:2', 102: '4:4:4' };
/** Codes of table 2 that are no mirror image. */
const ROTATIONS: Readonly<Record<number, 0 | 180>> = { 0: 0, 3: 180 };
/** Frames a second between which a rate is one. */
const [SLOWEST, FASTEST] = [1, 240];

/** The fields of one file, in its byte order. */
interface Fields {
  /** The bytes in front of the picture. */
  head: Uint8Array;
  u32: (bytes: Uint8Array, at: number) => number;
  /** A 32-bit float of the header that goes on to `end`; `null` where the picture begins before. */
  float: (at: number, end: number) => number | null;
}

/** What the header of a DPX frame tells. Throws nothing but what `read` throws. */
export function dpxStructure(read: Read, size: number): Structure {
  const troubles: string[] = [];
  const whole = read(0, Math.min(TELEVISION_END, size));
  const u32 = fourcc(whole, 0) === 'SDPX' ? u32be : u32le;
  const image = u32(whole, 4);
  const head = whole.subarray(0, image < ORIENTATION_END ? Math.max(image, IMAGE_END) : image);
  const fields: Fields = { head, u32, float: floatReader(head, u32 === u32le) };
  if (head.length < IMAGE_END) troubles.push('the header is cut off');
  const { rate, television } = ratesOf(fields, troubles);
  const timecode = head.length < TELEVISION_END ? null : dpxTimecode(u32(head, TIMECODE), television, rate, troubles);
  return {
    container: 'DPX',
    tracks: [pictureTrack(fields, rate, television !== null, imageBytes(u32, whole, size, troubles), troubles)],
    timecodes: timecode === null ? [] : [timecode],
    reel: null,
    camera: null,
    createdAt: dateOf(head),
    ties: NO_TIES,
    troubles,
  };
}

function pictureTrack(
  { head, u32 }: Fields,
  frameRate: Ratio | null,
  television: boolean,
  bytes: number | null,
  troubles: string[],
): PictureTrack {
  const told = head.length >= IMAGE_END;
  const orientation = u32 === u32be ? (head[ORIENTATION + 1] ?? 0) : (head[ORIENTATION] ?? 0);
  const width = told ? side(u32(head, WIDTH)) : null;
  const height = told ? side(u32(head, HEIGHT)) : null;
  if (told && (width === null || height === null)) troubles.push('the header gives no raster');
  const depth = head[BIT_DEPTH] ?? 0;
  return {
    type: 'picture',
    codecId: null,
    width,
    height,
    pixelAspect: head.length < ORIENTATION_END ? null : aspect(u32(head, PIXEL_ASPECT), u32(head, PIXEL_ASPECT + 4)),
    rotation: told ? (ROTATIONS[orientation] ?? null) : null,
    frameRate,
    variableRate: null,
    frames: 1,
    durationSeconds: frameRate === null ? null : frameRate.den / frameRate.num,
    bytes,
    scan: television ? scanOf(head[INTERLACE]) : null,
    bitDepth: told && DEPTHS.has(depth) ? depth : null,
    chroma: told ? (CHROMA[head[DESCRIPTOR] ?? 0] ?? null) : null,
  };
}

/** From the first byte of the picture to the end of the file as the header states it. */
function imageBytes(u32: Fields['u32'], head: Uint8Array, size: number, troubles: string[]): number | null {
  const image = u32(head, 4);
  const stated = u32(head, 16);
  const end = stated === 0 || stated === UNSET ? size : stated;
  if (end > size) troubles.push(`the header states ${count(end)} bytes, the file has ${count(size)}`);
  else if (image < IMAGE_END || image >= end) troubles.push('the header does not tell where the picture begins');
  else return end - image;
  return null;
}

/** Rate of the film header and of the television header; none where they differ. */
function ratesOf({ float }: Fields, troubles: string[]): { rate: Ratio | null; television: Ratio | null } {
  const film = rateOf(float(FILM_RATE, FILM_END));
  const television = rateOf(float(TELEVISION_RATE, TELEVISION_END));
  const rate = film ?? television;
  if (film === null || television === null || film.num * television.den === television.num * film.den)
    return { rate, television };
  troubles.push('the film and the television header give different frame rates');
  return { rate: null, television };
}

function floatReader(head: Uint8Array, littleEndian: boolean): Fields['float'] {
  const view = new DataView(head.buffer, head.byteOffset, head.byteLength);
  return (at, end) => (head.length < end ? null : view.getFloat32(at, littleEndian));
}

/** A float of 23.976 is near to what it means, and rounded like a decimal one. All ones is no number. */
function rateOf(value: number | null): Ratio | null {
  const isRate = value !== null && value >= SLOWEST && value <= FASTEST;
  return isRate ? exact({ num: Math.round(value * 1000), den: 1000 }) : null;
}

function scanOf(interlace: number | undefined): PictureTrack['scan'] {
  return interlace === 1 ? 'interlaced' : interlace === 0 ? 'progressive' : null;
}

function side(pixels: number): number | null {
  return pixels > 0 && pixels <= MAX_SIDE ? pixels : null;
}

/** Width to height of a sample; between 1:4 and 4:1, which is all that lenses and tape formats have. */
function aspect(across: number, down: number): Ratio | null {
  if (across === UNSET || down === UNSET || across === 0 || down === 0) return null;
  if (across > down * 4 || down > across * 4) return null;
  let [a, b] = [across, down];
  while (b > 0) [a, b] = [b, a % b];
  return { num: across / a, den: down / a };
}

/** `YYYY:MM:DD:HH:MM:SS:LTZ`, the last a zone or nothing; only a zone that names its offset is one. */
function dateOf(head: Uint8Array): string | null {
  const field = String.fromCharCode(...head.subarray(DATE, DATE + 24)).split('\0')[0] ?? '';
  const parts = /^(\d{4}):(\d\d):(\d\d):((?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d)(?::?\s*([\w+:-]*))?$/.exec(field.trim());
  if (parts === null) return null;
  const [, year, month, day, time, zone = ''] = parts;
  const known = /^(?:Z|UTC|GMT)$/i.test(zone) ? 'Z' : /^[+-](?:0\d|1[0-4]):?[0-5]\d$/.test(zone) ? zone : '';
  return isoDate(`${year}-${month}-${day} ${time}${known}`);
}
