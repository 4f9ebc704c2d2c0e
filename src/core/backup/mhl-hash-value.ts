import type { HashFormat } from './mhl-model.ts';

const HEX_DIGITS: Record<Exclude<HashFormat, 'c4'>, number> = { md5: 32, sha1: 40, xxh128: 32, xxh3: 16, xxh64: 16 };

/** SMPTE ST 2114: no 0, O, I and l. In the order of their bytes, so that sorted text is sorted by value. */
const ALPHABET = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';
const DIGITS = new Map([...ALPHABET].map((digit, value) => [digit, value]));
const C4_DIGITS = 88;
const C4 = /^c4[1-9A-HJ-NP-Za-km-z]{88}$/;
const SHA512_BYTES = 64;
/** Digits that a plain number holds exactly: 58^9 is less than 2^53. Ten times as fast as digit by digit. */
const AT_ONCE = 9;
const STEP = 58n ** BigInt(AT_ONCE);

/** The C4 identifier of a SHA-512: `c4` and its number in base 58, filled up with `1` (zero) to 90 characters. */
export function c4Of(sha512: Uint8Array): string {
  let rest = BigInt(`0x${sha512.toHex()}`);
  const digits: string[] = [];
  while (digits.length < C4_DIGITS) {
    let few = Number(rest % STEP);
    rest /= STEP;
    for (let n = 0; n < AT_ONCE; n += 1) {
      digits.push(ALPHABET.charAt(few % 58));
      few = Math.floor(few / 58);
    }
  }
  return `c4${digits.slice(0, C4_DIGITS).reverse().join('')}`;
}

/** 88 digits could tell more than 64 bytes. */
const LAST_C4 = c4Of(new Uint8Array(SHA512_BYTES).fill(0xff));

/** A value as it is compared: hex in lower case. `null` when it is none of this format. */
export function normalValue(format: HashFormat, text: string): string | null {
  if (format === 'c4') return C4.test(text) && text <= LAST_C4 ? text : null;
  const value = text.toLowerCase();
  return value.length === HEX_DIGITS[format] && /^[0-9a-f]+$/.test(value) ? value : null;
}

/** The bytes that a normal value stands for. */
export function bytesOfValue(format: HashFormat, value: string): Uint8Array {
  return format === 'c4' ? sha512Of(value) : Uint8Array.fromHex(value);
}

function sha512Of(c4: string): Uint8Array {
  const digits = c4.slice(2).padStart(Math.ceil(C4_DIGITS / AT_ONCE) * AT_ONCE, '1');
  let number = 0n;
  for (let at = 0; at < digits.length; at += AT_ONCE) {
    let few = 0;
    for (const digit of digits.slice(at, at + AT_ONCE)) few = few * 58 + (DIGITS.get(digit) ?? 0);
    number = number * STEP + BigInt(few);
  }
  return Uint8Array.fromHex(number.toString(16).padStart(SHA512_BYTES * 2, '0'));
}
