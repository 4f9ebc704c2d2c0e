import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { AdvisoryKind } from '../../../src/core/advise/advisory.ts';
import { advisoryCalled, codeOf } from '../../../src/core/advise/advisory-code.ts';
import { runs } from '../../effort.ts';

/** FNV-1a with 32 bits by its definition: hash = (hash XOR octet) * FNV_Prime, modulo 2^32, from the offset basis. */
function fnv1a(text: string): bigint {
  let hash = 2_166_136_261n;
  for (const octet of Buffer.from(text, 'utf8')) hash = ((hash ^ BigInt(octet)) * 16_777_619n) % 2n ** 32n;
  return hash;
}

/** A number as a letter and four of the 27 signs, the last digit first. */
function written(hash: bigint): string {
  const signs = 'bcdfghjkmnpqrstvwxz23456789';
  const places = [hash % 19n, ...[0, 1, 2, 3].map((place) => (hash / 19n / 27n ** BigInt(place)) % 27n)];
  return places.map((place) => signs[Number(place)]).join('');
}

const called = (subject: string, kind: AdvisoryKind = 'arrival-refused') => ({
  id: `${kind}:${subject}`,
  kind,
  subject,
});

/** Two files whose advisories share a code, found by looking. */
function twins() {
  const seen = new Map<string, ReturnType<typeof called>>();
  for (let index = 0; ; index++) {
    const one = called(`stripe/Saltmarsh/${index}.mov`);
    const code = codeOf(one.id);
    const other = seen.get(code);
    if (other !== undefined) return { one, other, code };
    seen.set(code, one);
  }
}

describe('the code of an advisory', () => {
  test('is its hash in letters and digits, the same for ever', () => {
    // The published values of FNV-1a with 32 bits (draft-eastlake-fnv, test vectors; from memory).
    expect([fnv1a(''), fnv1a('a'), fnv1a('foobar')]).toEqual([0x811c9dc5n, 0xe40c292cn, 0xbf9cf968n]);
    fc.assert(
      fc.property(fc.string({ unit: 'binary' }), (id) => {
        expect(codeOf(id)).toBe(written(fnv1a(id)));
        expect(codeOf(id)).toMatch(/^[bcdfghjkmnpqrstvwxz][bcdfghjkmnpqrstvwxz2-9]{4}$/);
      }),
      { numRuns: runs(200) },
    );
    expect(codeOf('speed-overrun:stripe')).toBe('t68js');
  });

  test('of 3,000 files few share one: no more than the birthday formula lets expect', () => {
    const codes = Array.from({ length: 3000 }, (_, index) => codeOf(`arrival-refused:stripe/Saltmarsh/A${index}.mov`));
    // n^2 / 2N = 0.45 of 10.1 million; five or more would come by chance once in ten thousand times.
    expect(codes.length - new Set(codes).size).toBeLessThan(5);
  });
});

describe('an advisory is found', () => {
  const standing = [called('stripe', 'speed-overrun'), called('stripe', 'capacity-reserve'), called('stripe/a\nb.mov')];

  test('by its code, in any case, and by its whole id, as it is or as it is shown', () => {
    const [first, , odd] = standing;
    expect(advisoryCalled('t68js', standing)).toBe(first);
    expect(advisoryCalled(' T68JS ', standing)).toBe(first);
    expect(advisoryCalled('speed-overrun:stripe', standing)).toBe(first);
    expect(advisoryCalled('arrival-refused:stripe/a\nb.mov', standing)).toBe(odd);
    expect(advisoryCalled('arrival-refused:stripe/a\\nb.mov', standing)).toBe(odd);
  });

  test('not by a guess: what may be meant is named', () => {
    expect(advisoryCalled('stripe', standing)).toBe(
      'no advisory is called stripe; did you mean t68js (speed-overrun:stripe), bjgb6 (capacity-reserve:stripe)',
    );
    expect(advisoryCalled('capacity-reserve', standing)).toMatch(/did you mean bjgb6 \(capacity-reserve:stripe\)$/);
    expect(advisoryCalled('zzzzz', standing)).toMatch(
      /^no advisory is called zzzzz \(one that was may be over\); there are t68js \(speed-overrun:stripe\), .*a\\nb\.mov\)$/,
    );
    expect(advisoryCalled('\u202ex', [])).toBe(
      'no advisory is called \\u{202e}x (one that was may be over); none stands',
    );
    const many = Array.from({ length: 12 }, (_, index) => called(`${index}`));
    expect(advisoryCalled('zzzzz', many)).toMatch(/ and 4 more$/);
  });

  test('two that share a code are told apart by their ids', () => {
    const { one, other, code } = twins();
    const problem = advisoryCalled(code, [one, other]);
    expect(problem).toMatch(new RegExp(`^${code} stands for several: say which by its whole name: `));
    expect(problem).toContain(one.id);
    expect(problem).toContain(other.id);
    expect(advisoryCalled(other.id, [one, other])).toBe(other);
    expect(advisoryCalled(code, [other])).toBe(other);
  });
});
