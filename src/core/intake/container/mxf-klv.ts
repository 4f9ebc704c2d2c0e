import { startsWith } from './reading.ts';

/** Bytes of a key: a SMPTE universal label (SMPTE ST 298). */
export const KEY_BYTES = 16;

/** The longest key and length in front of a value: 16 bytes, and 9 of length (SMPTE ST 336). */
export const KLV_HEAD = KEY_BYTES + 9;

/** Every key begins so; then the category of registry. */
const LABEL_START: readonly number[] = [6, 0x0e, 0x2b, 0x34];

const FILL_KEY_START: readonly number[] = [6, 0x0e, 0x2b, 0x34, 1, 1, 1];
const FILL_KEY_REST: readonly number[] = [3, 1, 2, 0x10, 1, 0, 0, 0];

/** Key, length and value, as positions in the bytes it was read from. */
export interface Klv {
  at: number;
  /** First byte of the value. */
  value: number;
  /** First byte behind the value. */
  end: number;
}

/** A BER length (SMPTE ST 336): one byte, or 0x80 + n and n bytes. `header` counts the bytes it takes itself. */
export function readLength(bytes: Uint8Array, at: number): { length: number; header: number } | null {
  const first = bytes[at];
  if (first === undefined) return null;
  if (first < 0x80) return { length: first, header: 1 };
  const more = first - 0x80;
  if (more === 0 || more > 8 || at + more >= bytes.length) return null;
  let length = 0;
  for (let index = 1; index <= more; index += 1) length = length * 0x100 + (bytes[at + index] ?? 0);
  return { length, header: 1 + more };
}

/** The item that begins at `at`; `null` where no key stands, or the length is none. `end` may lie behind the bytes. */
export function klvAt(bytes: Uint8Array, at: number): Klv | null {
  if (!startsWith(bytes, LABEL_START, at)) return null;
  const length = readLength(bytes, at + KEY_BYTES);
  if (length === null) return null;
  const value = at + KEY_BYTES + length.header;
  return { at, value, end: value + length.length };
}

/** Fill items (ST 377-1 clause 6.3.3) pad to a grid. Byte 8 of the key is the version of the registry: writers use 1 and 2. */
export function isFill(bytes: Uint8Array, at: number): boolean {
  return startsWith(bytes, FILL_KEY_START, at) && startsWith(bytes, FILL_KEY_REST, at + 8);
}

const DIGITS = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, '0'));

/** Bytes as lower-case hex. */
export function hex(bytes: Uint8Array): string {
  let text = '';
  for (const byte of bytes) text += DIGITS[byte];
  return text;
}
