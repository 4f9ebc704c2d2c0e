import { normalValue } from './mhl-hash-value.ts';
import { HASH_FORMATS, type HashFormat } from './mhl-model.ts';

/** Hashes of whole files that lists write: those of media hash lists, and those of checksum lists besides. */
export type SumFormat = HashFormat | 'sha224' | 'sha256' | 'sha384' | 'sha512' | 'b2' | 'xxh32';

/** Values by format: lower-case hex, or a C4 identifier. */
export type Sums = { readonly [format in SumFormat]?: string };

/** Digits of the others: xxHash (32 bits), FIPS 180-4, and BLAKE2b as b2sum(1) writes it (512 bits). */
const DIGITS: Record<Exclude<SumFormat, HashFormat>, number> = {
  ...{ xxh32: 8, sha224: 56, sha256: 64, sha384: 96, sha512: 128, b2: 128 },
};

/** In the order of how fast they are made; measured on one core: xxh 5 to 28 GB/s, sha1 1.9, the others below 1. */
export const SUM_FORMATS: readonly SumFormat[] = [
  ...(['xxh64', 'xxh3', 'xxh128', 'xxh32', 'sha1', 'c4', 'sha512', 'sha384', 'md5', 'b2', 'sha256', 'sha224'] as const),
];

/** A value as it is compared; `null` when it is none of this format. */
export function normalSum(format: SumFormat, text: string): string | null {
  if (isHashFormat(format)) return normalValue(format, text);
  const value = text.toLowerCase();
  return value.length === DIGITS[format] && /^[0-9a-f]+$/.test(value) ? value : null;
}

/** The format in which both have a value, the fastest first; `null`: there is none. */
export function commonFormat(one: Sums, other: Sums): SumFormat | null {
  return SUM_FORMATS.find((format) => one[format] !== undefined && other[format] !== undefined) ?? null;
}

/** Of the formats that a list has for a file the fastest. */
export function fastestFormat(sums: Sums): SumFormat | null {
  return commonFormat(sums, sums);
}

function isHashFormat(format: SumFormat): format is HashFormat {
  return (HASH_FORMATS as readonly SumFormat[]).includes(format);
}
