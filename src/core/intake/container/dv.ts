import { cannotTell, cut, type Finding } from './finding.ts';
import { count, type Read } from './reading.ts';

/** 10 or 12 DIF sequences of 150 blocks of 80 bytes: one frame at 25 Mb/s, 525/60 and 625/50. */
const FRAME_BYTES_60 = 10 * 150 * 80;
const FRAME_BYTES_50 = 12 * 150 * 80;

/**
 * Raw DV, SMPTE ST 314 and IEC 61834: nothing but frames of a fixed size. The header block tells the system: bit 7 of the
 * byte behind the block's ID (flag DSF) is 0 in 525/60 and 1 in 625/50. Frames at 50 and 100 Mb/s are multiples.
 *
 * A file that ends in mid-frame is cut; one that ends between two frames may have lost any number of whole ones.
 */
export function dvWholeness(read: Read, size: number): Finding {
  const [flags = 0] = read(3, 1);
  const frame = flags >= 0x80 ? FRAME_BYTES_50 : FRAME_BYTES_60;
  const rest = size % frame;
  if (rest === 0) return cannotTell(null);
  return cut(`the last frame has ${count(rest)} of ${count(frame)} bytes`);
}
