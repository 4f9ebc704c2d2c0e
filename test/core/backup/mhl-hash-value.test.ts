import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { bytesOfValue, c4Of, normalValue } from '../../../src/core/backup/mhl-hash-value.ts';

const sha512 = (text: string | Uint8Array) => createHash('sha512').update(text).digest();

/** SMPTE ST 2114; the test data of its reference library. */
const C4: [string, string][] = [
  ['', 'c459dsjfscH38cYeXXYogktxf4Cd9ibshE3BHUo6a58hBXmRQdZrAkZzsWcbWtDg5oQstpDuni4Hirj75GEmTc1sFT'],
  ['alfa', 'c43zYcLni5LF9rR4Lg4B8h3Jp8SBwjcnyyeh4bc6gTPHndKuKdjUWx1kJPYhZxYt3zV6tQXpDs2shPsPYjgG81wZM1'],
  ['bravo', 'c42jd8KUQG9DKppN1qt5aWS3PAmdPmNutXyVTb8H123FcuU3shPxpUXsVdcouSALZ4PaDvMYzQSMYCWkb6rop9zhDa'],
  ['charlie', 'c44erLietE8C1iKmQ3y4ENqA9g82Exdkoxox3KEHops2ux5MTsuMjfbFRvUPsPdi9Pxc3C2MRvLxWT8eFw5XKbRQGw'],
];

test.each(C4)('C4 of %j', (text, id) => {
  expect(c4Of(sha512(text))).toBe(id);
  expect(Buffer.from(bytesOfValue('c4', id))).toEqual(sha512(text));
});

test('any 64 bytes come back from 90 characters, zeros in front too, and sort as their text does', () => {
  const bytes = fc.uint8Array({ minLength: 64, maxLength: 64 });
  const zeros = fc.nat(64).map((n) => Uint8Array.from({ length: 64 }, (_, at) => (at < n ? 0 : 255)));
  const any = fc.oneof(bytes, zeros);
  fc.assert(
    fc.property(any, any, (one, other) => {
      const [a, b] = [c4Of(one), c4Of(other)];
      expect(a).toMatch(/^c4[1-9A-HJ-NP-Za-km-z]{88}$/);
      expect([...bytesOfValue('c4', a)]).toEqual([...one]);
      expect(Math.sign(a < b ? -1 : a > b ? 1 : 0)).toBe(Math.sign(Buffer.compare(one, other)));
    }),
  );
});

test('a value is one of its format alone', () => {
  expect(normalValue('xxh64', 'EF46DB3751D8E999')).toBe('ef46db3751d8e999');
  expect(normalValue('xxh64', 'ef46db3751d8e99')).toBeNull();
  expect(normalValue('md5', 'ef46db3751d8e999')).toBeNull();
  expect(normalValue('sha1', 'g'.repeat(40))).toBeNull();
  expect(normalValue('c4', C4[0]?.[1] ?? '')).toBe(C4[0]?.[1]);
  expect(normalValue('c4', `c4${'z'.repeat(88)}`)).toBeNull();
  expect(normalValue('c4', C4[0]?.[1].replace('9', '0') ?? '')).toBeNull();
});
