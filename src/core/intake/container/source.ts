import type { Read } from './reading.ts';

/** The first read takes this much: the whole header of most files, and the start of every other. */
const HEAD_BYTES = 32_768;

/** What a small read takes with it: an index is walked in steps of 16 bytes, and on a network each read is a round trip. */
const STEP_BYTES = 4096;

const MAX_BLOCKS = 64;

interface Block {
  start: number;
  bytes: Uint8Array;
}

/**
 * Reads of one file for the readers of this room: kept inside the file whatever a damaged structure asks for, and answered
 * from what was read before. A reader that needs a whole table asks for it once; the small reads in it then cost nothing.
 * @returns fewer bytes than asked for only at the end of the file
 */
export function blockReader(read: Read, size: number): Read {
  const blocks: Block[] = [];
  const load = (start: number, length: number): Block => {
    if (blocks.length >= MAX_BLOCKS) blocks.splice(1, blocks.length / 2);
    const block = { start, bytes: read(start, Math.min(length, size - start)) };
    blocks.push(block);
    return block;
  };
  return (position, length) => {
    const start = Math.min(Math.max(0, position), size);
    const inside = Math.min(length, size - start);
    if (!Number.isFinite(inside) || inside <= 0) return new Uint8Array(0);
    if (blocks.length === 0) load(0, Math.max(HEAD_BYTES, start === 0 ? inside : 0));
    const block = blocks.findLast((one) => holds(one, start, inside)) ?? load(start, Math.max(inside, STEP_BYTES));
    return block.bytes.subarray(start - block.start, start - block.start + inside);
  };
}

function holds({ start, bytes }: Block, from: number, length: number): boolean {
  return start <= from && from + length <= start + bytes.length;
}
