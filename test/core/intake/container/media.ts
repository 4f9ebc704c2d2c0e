import { readdirSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Finding } from '../../../../src/core/intake/container/finding.ts';
import { wholeness } from '../../../../src/core/intake/container/wholeness.ts';

const folder = fileURLToPath(new URL('../../../fixtures/media/', import.meta.url));

/** All fixture clips with one of these extensions (without dot, lower-case), by name. */
export function clips(...extensions: string[]): { name: string; bytes: Uint8Array }[] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => extensions.includes(name.slice(name.lastIndexOf('.') + 1).toLowerCase()))
    .sort()
    .map((name) => ({ name, bytes: new Uint8Array(readFileSync(folder + name)) }));
}

export function clip(name: string): Uint8Array {
  return new Uint8Array(readFileSync(folder + name));
}

/** Judges bytes as a file; a read outside of them is a failure. */
export function judge(bytes: Uint8Array, name: string): Finding {
  return judgeCounting(bytes, name).finding;
}

export function judgeCounting(bytes: Uint8Array, name: string): { finding: Finding; reads: number; read: number } {
  let reads = 0;
  let read = 0;
  const finding = wholeness(
    (position, length) => {
      const inside = Number.isInteger(position) && Number.isInteger(length) && position >= 0 && length > 0;
      if (!inside || position + length > bytes.length) throw new RangeError(`read of ${length} at ${position}`);
      reads += 1;
      read += length;
      return bytes.subarray(position, position + length);
    },
    bytes.length,
    name,
  );
  return { finding, reads, read };
}

/** The first `written` bytes, the rest zeros: a copy that reserved its room before it wrote. */
export function preallocated(bytes: Uint8Array, written: number): Uint8Array {
  const copy = new Uint8Array(bytes.length);
  copy.set(bytes.subarray(0, written));
  return copy;
}

export function ascii(text: string): Uint8Array {
  return Uint8Array.from(text, (character) => character.charCodeAt(0));
}

export function join(...parts: (Uint8Array | number[])[]): Uint8Array {
  return Uint8Array.from(parts.flatMap((part) => [...part]));
}

export function be32(value: number): number[] {
  return [(value >>> 24) & 255, (value >>> 16) & 255, (value >>> 8) & 255, value & 255];
}

export function le32(value: number): number[] {
  return be32(value).reverse();
}

/** A box of ISO/IEC 14496-12 with a 32-bit size. */
export function box(type: string, ...content: (Uint8Array | number[])[]): Uint8Array {
  const body = join(...content);
  return join(be32(body.length + 8), ascii(type), body);
}
