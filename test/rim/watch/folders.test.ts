import { describe, expect, test } from 'vitest';
import { type FolderMark, Folders, needsReading } from '../../../src/rim/watch/folders.ts';

const SECOND = 1_000_000_000n;
const at = (seconds: number): bigint => BigInt(Math.round(seconds * 1000)) * 1_000_000n;

function mark(over: Partial<FolderMark> = {}): FolderMark {
  return {
    ino: 5n,
    readMtimeNs: at(100),
    knownMtimeNs: at(100),
    readAt: 200_000,
    complete: true,
    count: 3,
    names: new Set(),
    digest: null,
    changedAt: 0,
    ...over,
  };
}

describe('needsReading', () => {
  test.each([
    ['nothing happened', mark(), { ino: 5n, mtimeNs: at(100) }, true, null],
    ['another time', mark(), { ino: 5n, mtimeNs: at(150) }, true, 'changed'],
    ['a time that went back', mark(), { ino: 5n, mtimeNs: at(50) }, true, 'changed'],
    ['another folder at its place', mark(), { ino: 6n, mtimeNs: at(100) }, true, 'other-folder'],
    // FAT stamps are 2 s coarse: a change right after the read leaves the same time.
    [
      'read within two seconds of its time',
      mark({ readAt: 101_500 }),
      { ino: 5n, mtimeNs: at(100) },
      true,
      'too-fresh',
    ],
    ['a time far in the future is no reason', mark({ readAt: 1000 }), { ino: 5n, mtimeNs: at(100) }, true, null],
    ['not all could be read', mark({ complete: false }), { ino: 5n, mtimeNs: at(100) }, true, 'incomplete'],
    ['told by events', mark({ knownMtimeNs: at(150) }), { ino: 5n, mtimeNs: at(150) }, true, null],
    [
      'told by events that are not trusted',
      mark({ knownMtimeNs: at(150) }),
      { ino: 5n, mtimeNs: at(150) },
      false,
      'changed',
    ],
    [
      'changed again after the events',
      mark({ knownMtimeNs: at(150) }),
      { ino: 5n, mtimeNs: at(150) + SECOND },
      true,
      'changed',
    ],
  ] as const)('%s', (_, before, now, trust, expected) => {
    expect(needsReading(before, now, trust)).toBe(expected);
  });
});

test('a folder is dropped with all below it and nothing beside it', () => {
  const folders = new Folders();
  for (const path of ['', 'a', 'a/b', 'a/b/c', 'ab', 'a b']) folders.put(path, mark({ names: new Set() }));
  expect(folders.drop('a')).toEqual(['a', 'a/b', 'a/b/c']);
  expect(folders.paths().sort()).toEqual(['', 'a b', 'ab']);
  expect([...(folders.get('')?.names ?? [])].sort()).toEqual(['a b', 'ab']);
  folders.drop('not there');
  folders.drop('');
  expect(folders.size).toBe(0);
});

test('folders that changed lately, the last one first', () => {
  const folders = new Folders();
  for (const [path, changedAt] of Object.entries({ now: 999_000, before: 700_000, long: 1000, 'set ahead': 9e12 }))
    folders.put(path, mark({ changedAt }));
  expect(folders.lately(1_000_000)).toEqual(['now', 'before']);
});
