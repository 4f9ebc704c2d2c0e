import type { HashFormat } from './mhl-model.ts';

const HEX_DIGITS: Record<Exclude<HashFormat, 'c4'>, number> = { md5: 32, sha1: 40, xxh128: 32, xxh3: 16, xxh64: 16 };

/** SMPTE ST 2114: no 0, O, I and l. In the order of their bytes, so that sorted text is sorted by value. */
const ALPHABET = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';
const DIGITS = new Map([...ALPHABET].map((digit, value) => [digit, BigInt(value)]));
const C4_DIGITS = 88;
const C4 = /^c4[1-9A-HJ-NP-Za-km-z]{88}$/;
const SHA512_BYTES = 64;

/** The C4 identifier of a SHA-512: `c4` and its number in base 58, filled up with `1` (zero) to 90 characters. */
export function c4Of(sha512: Uint8Array): string {
  let rest = BigInt(`0x${sha512.toHex()}`);
  let digits = '';
  for (let n = 0; n < C4_DIGITS; n += 1) {
    digits = (ALPHABET[Number(rest % 58n)] ?? '') + digits;
    rest /= 58n;
  }
  return `c4${digits}`;
}

/** A value as it is compared: hex in lower case. `null` when it is none of this format. */
export function normalValue(format: HashFormat, text: string): string | null {
  if (format === 'c4') return C4.test(text) ? text : null;
  const value = text.toLowerCase();
  return value.length === HEX_DIGITS[format] && /^[0-9a-f]+$/.test(value) ? value : null;
}

/** The bytes that a normal value stands for. */
export function bytesOfValue(format: HashFormat, value: string): Uint8Array {
  return format === 'c4' ? sha512Of(value) : Uint8Array.fromHex(value);
}

function sha512Of(c4: string): Uint8Array {
  let number = 0n;
  for (const digit of c4.slice(2)) number = number * 58n + (DIGITS.get(digit) ?? 0n);
  return Uint8Array.fromHex(number.toString(16).padStart(SHA512_BYTES * 2, '0'));
}
