import { ascii } from './media.ts';

/** Frames with all five headers of SMPTE ST 268-1, in which whatever is not asked for is unset. */

export interface Dpx {
  bigEndian?: boolean;
  width?: number;
  height?: number;
  depth?: number;
  /** Component set, table 1: 50 is RGB. */
  descriptor?: number;
  orientation?: number;
  /** First byte of the picture. */
  image?: number;
  /** Length of the file as the header states it. */
  stated?: number;
  pictureBytes?: number;
  date?: string;
  aspect?: readonly [number, number];
  filmRate?: number;
  televisionRate?: number;
  /** `HHMMSSFF`, digits of four bits. */
  timecode?: number;
  interlace?: number;
}

/** Offsets of ST 268-1: file header 0, image 768, orientation 1408, film 1664, television 1920, picture from 2048. */
export function dpx(told: Dpx = {}): Uint8Array {
  const { image = 2048, pictureBytes = 64 * 36 * 4, width = 64, height = 36, depth = 10, descriptor = 50 } = told;
  const bytes = new Uint8Array(image + pictureBytes).fill(0xff, 0, Math.min(image, 2048)).fill(0x55, image);
  const view = new DataView(bytes.buffer);
  const little = told.bigEndian !== true;
  const u32 = (at: number, value: number) => view.setUint32(at, value, little);
  bytes.set(ascii(little ? 'XPDS' : 'SDPX'));
  u32(4, image);
  u32(16, told.stated ?? bytes.length);
  bytes.fill(0, 36, 768).set(ascii(told.date ?? ''), 136);
  view.setUint16(768, told.orientation ?? 0, little);
  view.setUint16(770, 1, little);
  u32(772, width);
  u32(776, height);
  bytes[800] = descriptor;
  bytes[803] = depth;
  for (const [index, value] of (told.aspect ?? []).entries()) u32(1628 + index * 4, value);
  if (told.filmRate !== undefined) view.setFloat32(1724, told.filmRate, little);
  if (told.timecode !== undefined) u32(1920, told.timecode);
  if (told.interlace !== undefined) bytes[1928] = told.interlace;
  if (told.televisionRate !== undefined) view.setFloat32(1940, told.televisionRate, little);
  return bytes;
}
