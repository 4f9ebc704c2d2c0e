/**
 * Positioned read of a file, handed in by whoever holds it open. Returns the bytes from `position` on, fewer than `length`
 * only when the file ends there. What it throws (an I/O error) passes through the readers of this room unchanged.
 */
export type Read = (position: number, length: number) => Uint8Array;

/** More top-level or nested boxes, chunks or packs than this are not followed. */
export const MAX_PARTS = 10_000;

/** How much is looked at when the question is "was this part ever written". */
export const TAIL_BYTES = 4096;

function u16be(bytes: Uint8Array, at: number): number {
  return (bytes[at] ?? 0) * 0x100 + (bytes[at + 1] ?? 0);
}

export function u32be(bytes: Uint8Array, at: number): number {
  return u16be(bytes, at) * 0x1_0000 + u16be(bytes, at + 2);
}

/** Above 2^53 the result is rounded, which is far beyond any file: every caller compares it with the file's size. */
export function u64be(bytes: Uint8Array, at: number): number {
  return u32be(bytes, at) * 0x1_0000_0000 + u32be(bytes, at + 4);
}

export function u32le(bytes: Uint8Array, at: number): number {
  return (
    (bytes[at] ?? 0) +
    (bytes[at + 1] ?? 0) * 0x100 +
    (bytes[at + 2] ?? 0) * 0x1_0000 +
    (bytes[at + 3] ?? 0) * 0x100_0000
  );
}

export function u64le(bytes: Uint8Array, at: number): number {
  return u32le(bytes, at) + u32le(bytes, at + 4) * 0x1_0000_0000;
}

/** Four bytes as text, each byte one character. */
export function fourcc(bytes: Uint8Array, at: number): string {
  return String.fromCharCode(bytes[at] ?? 0, bytes[at + 1] ?? 0, bytes[at + 2] ?? 0, bytes[at + 3] ?? 0);
}

/** True for a non-empty run of zero bytes. */
export function allZero(bytes: Uint8Array): boolean {
  return bytes.length > 0 && bytes.every((byte) => byte === 0);
}

/** Whether the last 4 KiB of `start`..`end` are zeros: room that was reserved and never written, or silence. */
export function endsInZeros(read: Read, start: number, end: number): boolean {
  const length = Math.min(TAIL_BYTES, end - start);
  return length > 0 && allZero(read(end - length, length));
}

export function startsWith(bytes: Uint8Array, prefix: readonly number[], at = 0): boolean {
  return bytes.length >= at + prefix.length && prefix.every((byte, index) => bytes[at + index] === byte);
}

/** Bytes with thousands separators, so that a person can compare two sizes. */
export function count(bytes: number): string {
  return String(bytes).replace(/\B(?=(\d{3})+$)/g, ',');
}
