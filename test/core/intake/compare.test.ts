import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { compareSeen } from '../../../src/core/intake/compare.ts';

const KNOWN = { size: 10, mtimeNs: 1_804_132_800_123_456_789n, ctimeNs: 5n, ino: 7n };

describe('compareSeen', () => {
  test.each([
    ['new', 'not-known', null, KNOWN],
    ['same', 'identical', KNOWN, { ...KNOWN }],
    ['changed', 'size', KNOWN, { ...KNOWN, size: 11, mtimeNs: 0n }],
    ['changed', 'modified-time', KNOWN, { ...KNOWN, mtimeNs: KNOWN.mtimeNs + 1n, ctimeNs: 6n }],
    ['changed', 'changed-time', KNOWN, { ...KNOWN, ctimeNs: 4n, ino: 8n }],
    ['changed', 'inode', KNOWN, { ...KNOWN, ino: 8n }],
  ] as const)('%s because of %s', (verdict, reason, known, seen) => {
    expect(compareSeen(known, seen)).toEqual({ verdict, reason });
  });

  test('an inode with its top bit set is the same whether it was read signed or unsigned', () => {
    expect(compareSeen({ ...KNOWN, ino: 2n ** 64n - 1n }, { ...KNOWN, ino: -1n }).verdict).toBe('same');
  });

  test('inode 0 is not known: it is no difference, on either side; the rest still is', () => {
    expect(compareSeen(KNOWN, { ...KNOWN, ino: 0n }).verdict).toBe('same');
    expect(compareSeen({ ...KNOWN, ino: 0n }, KNOWN).verdict).toBe('same');
    expect(compareSeen({ ...KNOWN, ino: 0n }, { ...KNOWN, ctimeNs: 4n }).reason).toBe('changed-time');
  });

  test('device, blocks and links play no part', () => {
    const placed = { ...KNOWN, dev: 1n, allocated: 0, nlink: 1 };
    const remounted = { ...placed, dev: 2n, allocated: 4096, nlink: 2 };
    expect(compareSeen(placed, remounted).verdict).toBe('same');
  });

  test('a file is the same as itself, and a change is one in both directions', () => {
    const identity = fc.record({
      size: fc.nat(2),
      mtimeNs: fc.bigInt(0n, 1n),
      ctimeNs: fc.bigInt(0n, 1n),
      ino: fc.bigInt(0n, 2n),
    });
    fc.assert(
      fc.property(identity, identity, (a, b) => {
        expect(compareSeen(a, a).verdict).toBe('same');
        expect(compareSeen(a, b)).toEqual(compareSeen(b, a));
      }),
    );
  });
});
