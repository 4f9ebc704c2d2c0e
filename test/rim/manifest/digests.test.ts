import { expect, test } from 'vitest';
import type { HashFormat } from '../../../src/core/backup/mhl-model.ts';
import { digests } from '../../../src/rim/manifest/digests.ts';

/** The buffer of xxHash's own check (cli/xsum_sanity_check.c, commit b2e9dbb0): the top bytes of a product that goes on. */
function checkBuffer(length: number): Uint8Array {
  let state = 2_654_435_761n;
  return Uint8Array.from({ length }, () => {
    const byte = Number(state >> 56n);
    state = BigInt.asUintN(64, state * 11_400_714_785_074_694_797n);
    return byte;
  });
}

/** The same file's values for the seed 0; lengths in bytes. */
const XXHASH: Partial<Record<HashFormat, [number, string][]>> = {
  xxh64: [
    [0, 'ef46db3751d8e999'],
    [1, 'e934a84adb052768'],
    [4, '9136a0dca57457ee'],
    [14, '8282dcc4994e35c8'],
    [222, 'b641ae8cb691c174'],
  ],
  xxh3: [
    [0, '2d06800538d394c2'],
    [1, 'c44bdff4074eecdb'],
    [6, '27b56a84cd2d7325'],
    [12, 'a713daf0dfbb77e7'],
    [24, 'a3fe70bf9d3510eb'],
    [48, '397da259ecba1f11'],
    [80, 'bcdefbbb2c47c90a'],
    [195, 'cd94217ee362ec3a'],
    [403, 'cdeb804d65c6dea4'],
    [512, '617e49599013cb6b'],
    [2048, 'dd59e2c3a5f038e0'],
    [2099, 'c6b9d9b3fc9ac765'],
    [2240, '6e73a90539cf2948'],
    [2367, 'cb37aeb9e5d361ed'],
  ],
  xxh128: [
    [0, '99aa06d3014798d86001c324468d497f'],
    [1, 'a6cd5e9392000f6ac44bdff4074eecdb'],
    [6, '082afe0b8162d12a3e7039bdda43cfc6'],
    [12, '6e3efd8fc7802b18061a192713f69ad9'],
    [24, '0ce966e4678d37611e7044d28b1b901d'],
    [48, 'a002ac4e5478227ef942219aed80f67b'],
    [81, '4952f58181ab00425e8bafb9f95fb803'],
    [222, '337e09641b948717f1aebd597cec6b3a'],
    [403, '1b6de21e332dd73dcdeb804d65c6dea4'],
    [512, '18d2d110dcc9bca1617e49599013cb6b'],
    [2048, 'f736557fd47073a5dd59e2c3a5f038e0'],
    [2240, 'ccb134fbfa7ce49d6e73a90539cf2948'],
    [2367, 'e89c0f6ff369b427cb37aeb9e5d361ed'],
  ],
};

const ofXxhash = Object.entries(XXHASH).flatMap(([format, rows]) =>
  rows.map(([length, value]) => [format as HashFormat, length, value] as const),
);

test.each(ofXxhash)('%s of %d bytes', (format, length, value) => {
  expect(digests[format](checkBuffer(length))).toBe(value);
});

/** RFC 1321, A.5; FIPS 180 examples (from memory) for SHA-1; SMPTE ST 2114 for C4. */
const OF_TEXTS: Partial<Record<HashFormat, [string, string][]>> = {
  md5: [
    ['', 'd41d8cd98f00b204e9800998ecf8427e'],
    ['a', '0cc175b9c0f1b6a831c399e269772661'],
    ['abc', '900150983cd24fb0d6963f7d28e17f72'],
    ['message digest', 'f96b697d7cb7938d525a2f31aaf161d0'],
    ['abcdefghijklmnopqrstuvwxyz', 'c3fcd3d76192e4007dfb496cca67e13b'],
    ['ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789', 'd174ab98d277d9f5a5611c2c9f419d9f'],
    [
      '12345678901234567890123456789012345678901234567890123456789012345678901234567890',
      '57edf4a22be3c955ac49da2e2107b67a',
    ],
  ],
  sha1: [
    ['abc', 'a9993e364706816aba3e25717850c26c9cd0d89d'],
    ['', 'da39a3ee5e6b4b0d3255bfef95601890afd80709'],
  ],
  c4: [['alfa', 'c43zYcLni5LF9rR4Lg4B8h3Jp8SBwjcnyyeh4bc6gTPHndKuKdjUWx1kJPYhZxYt3zV6tQXpDs2shPsPYjgG81wZM1']],
  // The one whose first digit is a zero, which a number does not have (xxhsum of xxHash 0.8.1 says the same).
  xxh128: [['abc', '06b05ab6733a618578af5f94892f3950']],
};

const ofTexts = Object.entries(OF_TEXTS).flatMap(([format, rows]) =>
  rows.map(([text, value]) => [format as HashFormat, text, value] as const),
);

test.each(ofTexts)('%s of %j', (format, text, value) => {
  expect(digests[format](Buffer.from(text))).toBe(value);
});
