import { walkBoxes } from '../../core/intake/container/bmff-boxes.ts';
import { type Read, startsWith } from '../../core/intake/container/reading.ts';

/**
 * The library keeps what it reads of an index, many times as large. Measured at 50 frames a second with compressed sound:
 * one hour up to 10 bytes for each of the index, three hours up to 17 (of fragments more: those are left to our own reader).
 */
const PER_INDEX_BYTE = 16;
/** It holds an OpenEXR picture in one piece, and grows by doubling. */
const PER_PICTURE_BYTE = 2;
const MOST = 192 * 1_048_576;
const EXR_MAGIC: readonly number[] = [0x76, 0x2f, 0x31, 0x01];

/**
 * Memory, in bytes, that the probe library may take for a file beyond what any file may: in proportion to what of its
 * content it must hold, and really is there. A damaged file does not get it for what it only claims.
 */
export function ownNeed(read: Read, size: number): number {
  if (startsWith(read(0, EXR_MAGIC.length), EXR_MAGIC)) return Math.min(MOST, size * PER_PICTURE_BYTE);
  let index = 0;
  const { ended } = walkBoxes(read, size, ({ type, start, end }) => {
    if (type === 'moov' || type === 'moof') index += end - start;
  });
  return ended === 'end' ? Math.min(MOST, index * PER_INDEX_BYTE) : 0;
}
