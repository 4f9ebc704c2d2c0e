import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { leastCopies, NO_FILES, sumTallies, tallyOf, type VerifiedCopy } from '../../../src/core/cards/copy-tally.ts';

const copy = (shelf: string, drive: string, readAt: number): VerifiedCopy => ({
  ...{ shelf: `id-${shelf}`, name: shelf, drive, readAt },
});

describe('verified copies of files', () => {
  test('two shelves on one drive are one copy, two files on one shelf are one copy', () => {
    const sameDrive = tallyOf([copy('shelf-a', 'one', 1), copy('shelf-b', 'one', 2)], 'stripe', 7);
    expect(leastCopies(sameDrive)).toBe(1);
    expect(sameDrive.exposable).toEqual([{ volume: 'stripe', copies: 1, bytes: 7 }]);
    const twice = tallyOf([copy('shelf-a', 'one', 1), copy('shelf-a', 'one', 5)], 'stripe', 0);
    expect([leastCopies(twice), twice.oldestReadAt, twice.exposable]).toEqual([1, 5, []]);
    expect(leastCopies(tallyOf([copy('shelf-a', 'one', 1), copy('shelf-b', 'two', 2)], 'stripe', 7))).toBe(2);
    expect(leastCopies(tallyOf([], 'stripe', 7))).toBe(0);
    expect(leastCopies(NO_FILES)).toBeNull();
  });

  test('of several files the least counts, and the copy that was not read for longest', () => {
    const all = sumTallies([
      tallyOf([copy('shelf-b', 'two', 9), copy('shelf-a', 'one', 3)], 'stripe', 10),
      tallyOf([copy('shelf-a', 'one', 2)], 'stripe', 20),
      tallyOf([copy('shelf-a', 'one', 8)], 'mirror', 30),
    ]);
    expect(all).toEqual({
      files: 3,
      byCopies: [0, 2, 1],
      shelves: [
        { id: 'id-shelf-a', name: 'shelf-a', files: 3 },
        { id: 'id-shelf-b', name: 'shelf-b', files: 1 },
      ],
      oldestReadAt: 2,
      exposable: [
        { volume: 'stripe', copies: 2, bytes: 10 },
        { volume: 'stripe', copies: 1, bytes: 20 },
        { volume: 'mirror', copies: 1, bytes: 30 },
      ],
    });
    expect(leastCopies(all)).toBe(1);
  });

  test('does not depend on how the files are parted', () => {
    const one = fc.record({ shelves: fc.subarray(['a', 'b', 'c']), at: fc.nat(50), bytes: fc.nat(9) });
    fc.assert(
      fc.property(fc.array(one, { maxLength: 12 }), fc.nat(12), (files, at) => {
        const tallies = files.map((file) =>
          tallyOf(
            file.shelves.map((shelf) => copy(shelf, shelf === 'c' ? 'b' : shelf, file.at)),
            'stripe',
            file.bytes,
          ),
        );
        const parted = sumTallies([sumTallies(tallies.slice(0, at)), sumTallies(tallies.slice(at))]);
        expect(parted).toEqual(sumTallies(tallies));
        // By hand: the drives of each file.
        const drives = files.map(({ shelves }) => new Set(shelves.map((shelf) => (shelf === 'c' ? 'b' : shelf))).size);
        expect(leastCopies(parted)).toBe(drives.length === 0 ? null : Math.min(...drives));
      }),
    );
  });
});
