import type { Ratio } from '../../model.ts';
import { exact } from '../frame-rate.ts';
import type { Indexed } from './avi-index.ts';
import type { AviStream } from './avi-stream.ts';
import { count, fourcc, u32le } from './reading.ts';
import { u16le } from './riff-chunks.ts';
import type { OtherTrack, PictureTrack, SoundTrack, StructureTrack } from './structure.ts';
import { soundFormat } from './wave-format.ts';

/** What the main header and its extension tell. */
export interface AviHeader {
  width: number;
  height: number;
  /** Frames of all parts of an OpenDML file, `dmlh`; 0: not told. */
  totalFrames: number;
}

/** Uncompressed RGB in a BITMAPINFOHEADER. */
const RGB = 0;
const BITMAP_BYTES = 40;

/** Larger sides are damage. */
const MAX_SIDE = 65_536;

/** DVINFO has no more than this. */
const DV_FORMAT_BYTES = 32;
/** Sampling rates of DV sound, by the code in the AAUX source pack (IEC 61834-4). */
const DV_SOUND_RATES: readonly number[] = [48_000, 44_100, 32_000];
const NO_PACK = 0xffff_ffff;

/**
 * The tracks of a stream; two where DV carries its sound inside (`iavs`).
 * @param complete whether the file is all there: lengths of one that is not are not those of what is stored
 * @param indexed what the index lists of this stream
 */
export function streamTracks(
  stream: AviStream,
  header: AviHeader,
  complete: boolean,
  indexed: Indexed | null,
  troubles: string[],
): StructureTrack[] {
  switch (stream.type) {
    case 'vids':
      return [pictureTrack(stream, header, complete, indexed, troubles)];
    case 'iavs':
      return [pictureTrack(stream, header, complete, indexed, troubles), ...soundInside(stream)];
    case 'auds':
      return [soundTrack(stream, complete, troubles)];
    default: {
      const track: OtherTrack = { type: 'other', codecId: printable(stream.type) };
      return [track];
    }
  }
}

function pictureTrack(
  stream: AviStream,
  header: AviHeader,
  complete: boolean,
  indexed: Indexed | null,
  troubles: string[],
): PictureTrack {
  const bitmap = stream.type === 'vids' && stream.format.length >= BITMAP_BYTES ? stream.format : null;
  if (bitmap === null && stream.type === 'vids') troubles.push('the format of the picture is missing or cut off');
  const frameRate = rateOf(stream);
  if (frameRate === null) troubles.push('the stream header gives no frame rate');
  const stated = Math.max(stream.length, header.totalFrames);
  const frames = complete && stated > 0 ? stated : null;
  if (stated === 0) troubles.push('the number of frames is not written');
  if (indexed !== null && frames !== null && indexed.frames !== frames)
    troubles.push(`the header states ${count(frames)} frames, the index lists ${count(indexed.frames)}`);
  const width = side(bitmap === null ? header.width : u32le(bitmap, 4));
  // Negative where the first line is the uppermost.
  const height = side(bitmap === null ? header.height : Math.abs(u32le(bitmap, 8) | 0));
  return {
    type: 'picture',
    codecId: bitmap === null ? printable(stream.handler) : compression(bitmap),
    width,
    height,
    pixelAspect: pixelAspect(stream.properties, width, height),
    rotation: null,
    frameRate,
    variableRate: frameRate === null ? null : false,
    frames,
    durationSeconds: frames === null || frameRate === null ? null : (frames * frameRate.den) / frameRate.num,
    bytes: indexed?.bytes ?? null,
    // One field a frame is also what writers put that do not know.
    scan: u32le(stream.properties, 32) === 2 ? 'interlaced' : null,
    bitDepth: bitmap === null ? null : rgbDepth(bitmap),
    chroma: null,
  };
}

/** Of PCM the stream header counts whole samples; of anything else it counts units of any length. */
function soundTrack(stream: AviStream, complete: boolean, troubles: string[]): SoundTrack {
  const format = soundFormat(stream.format);
  if (format === null) troubles.push('the format of the sound is missing or cut off');
  const length = complete && stream.length > 0 ? stream.length : null;
  const isCounted = length !== null && format !== null && format.frameBytes === stream.unitBytes;
  const isTimed = length !== null && stream.rate > 0 && stream.scale > 0;
  return {
    type: 'sound',
    codecId: format?.codecId ?? null,
    channels: format?.channels ?? null,
    sampleRate: format?.sampleRate ?? null,
    bitDepth: format?.bitDepth ?? null,
    samples: isCounted ? length : null,
    durationSeconds: isTimed ? (length * stream.scale) / stream.rate : null,
    bytes: isCounted ? length * stream.unitBytes : null,
  };
}

/** DVINFO begins with the AAUX source packs of both halves of the sound, their first byte left out; all ones: no sound. */
function soundInside({ format }: AviStream): SoundTrack[] {
  if (format.length < DV_FORMAT_BYTES || u32le(format, 0) === NO_PACK) return [];
  const sampleRate = DV_SOUND_RATES[((format[3] ?? 0) >> 3) & 7] ?? null;
  const unknown = { codecId: null, channels: null, bitDepth: null, samples: null, durationSeconds: null, bytes: null };
  return [{ type: 'sound', ...unknown, sampleRate }];
}

function rateOf({ rate, scale }: AviStream): Ratio | null {
  return rate > 0 && scale > 0 ? exact({ num: rate, den: scale }) : null;
}

function side(pixels: number): number | null {
  return pixels > 0 && pixels <= MAX_SIDE ? pixels : null;
}

/** A four-character code, or the number of one of the few forms that have none (0: RGB). */
function compression(bitmap: Uint8Array): string {
  return printable(fourcc(bitmap, 16)) ?? `0x${u32le(bitmap, 16).toString(16).padStart(8, '0')}`;
}

function printable(code: string): string | null {
  return /^[\x20-\x7e]{4}$/.test(code) ? code : null;
}

function rgbDepth(bitmap: Uint8Array): number | null {
  const bits = u16le(bitmap, 14);
  return u32le(bitmap, 16) === RGB && (bits === 24 || bits === 32) ? 8 : null;
}

/** From the shape of the whole frame in the video properties, which must be of the same raster. */
function pixelAspect(properties: Uint8Array, width: number | null, height: number | null): Ratio | null {
  const [across, down] = [u16le(properties, 22), u16le(properties, 20)];
  if (across === 0 || down === 0 || width === null || height === null) return null;
  if (u32le(properties, 24) !== width || u32le(properties, 28) !== height) return null;
  return reduced(across * height, down * width);
}

function reduced(num: number, den: number): Ratio {
  let [a, b] = [num, den];
  while (b > 0) [a, b] = [b, a % b];
  return { num: num / a, den: den / a };
}
