import { describe, expect, test } from 'vitest';
import { nextGeneration } from '../../../src/core/backup/mhl-generation.ts';
import { formatsToHash, MhlHistory } from '../../../src/core/backup/mhl-history.ts';
import type { ListedFile, NowFile } from '../../../src/core/backup/mhl-model.ts';
import type { FileVerdict } from '../../../src/core/backup/mhl-verdict.ts';
import { AT, md5, nowFile, operationAt } from './listed.ts';

const START = Date.UTC(2027, 2, 4, 21);

/** Lists what is there in the next generation, adds that to the history, and tells what was found. */
function record(history: MhlHistory, files: NowFile[], more: Parameters<typeof operationAt>[1] = {}) {
  const part = { root: '', files, folders: [], hashes: new Map(), references: [] };
  const next = nextGeneration(history, part, operationAt(START, more));
  history.add(next.generation?.files ?? [], next.generation?.ignore ?? []);
  return { ...next, entries: (next.generation?.files ?? []).map(inShort), found: next.found.map(told) };
}

function inShort({ path, hashes, previousPath }: ListedFile): string {
  const actions = hashes.map(({ format, action }) => `${format} ${action}`).join(', ');
  return `${path}: ${actions}${previousPath === null ? '' : `, was ${previousPath}`}`;
}

function told(verdict: FileVerdict): string {
  if (verdict.kind === 'missing') return `missing ${verdict.path}`;
  const from = 'from' in verdict && verdict.from !== null ? ` from ${verdict.from}` : '';
  return `${verdict.kind} ${verdict.file.path}${from}`;
}

const A = nowFile('Clips/A.mov', 'take a');
const B = nowFile('Clips/B.mov', 'take b');

describe('three generations', () => {
  test('original, verified, verified; new files are original in theirs', () => {
    const history = new MhlHistory();
    expect(record(history, [A]).entries).toEqual(['Clips/A.mov: md5 original']);
    expect(record(history, [A, B]).entries).toEqual(['Clips/A.mov: md5 verified', 'Clips/B.mov: md5 original']);
    expect(record(history, [A, B])).toMatchObject({
      entries: ['Clips/A.mov: md5 verified', 'Clips/B.mov: md5 verified'],
      found: ['intact Clips/A.mov', 'intact Clips/B.mov'],
    });
    expect(history.generations).toBe(3);
  });

  test('an altered file fails against the first value, also when it stays as it is, and is intact again when it is put back', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const altered = nowFile(A.path, 'take A');
    expect(record(history, [altered])).toMatchObject({
      entries: ['Clips/A.mov: md5 failed'],
      found: ['altered Clips/A.mov'],
    });
    // Specification 5.6.4: what failed is not compared with.
    expect(record(history, [altered]).entries).toEqual(['Clips/A.mov: md5 failed']);
    expect(record(history, [A]).entries).toEqual(['Clips/A.mov: md5 verified']);
  });

  test('a rename is told once', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const moved = { ...A, path: 'Clips/best/A.mov' };
    expect(record(history, [moved])).toMatchObject({
      entries: ['Clips/best/A.mov: md5 verified, was Clips/A.mov'],
      found: ['renamed Clips/best/A.mov from Clips/A.mov'],
    });
    expect(record(history, [moved])).toMatchObject({
      entries: ['Clips/best/A.mov: md5 verified'],
      found: ['intact Clips/best/A.mov'],
    });
    expect(record(history, []).found).toEqual(['missing Clips/best/A.mov']);
  });

  test('a missing file stays missing, has no entry, and is intact when it is back', () => {
    const history = new MhlHistory();
    record(history, [A, B]);
    const lacking = record(history, [A]);
    expect(lacking).toMatchObject({
      entries: ['Clips/A.mov: md5 verified'],
      found: ['intact Clips/A.mov', 'missing Clips/B.mov'],
    });
    expect(record(history, [A]).found).toContain('missing Clips/B.mov');
    expect(record(history, [A, B]).found).toEqual(['intact Clips/A.mov', 'intact Clips/B.mov']);
  });

  test('a part of what is there says nothing of the rest', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const part = record(history, [B], { whole: false });
    expect(part).toMatchObject({ entries: ['Clips/B.mov: md5 original'], found: ['new Clips/B.mov'] });
    expect(record(history, [A, B]).found).toEqual(['intact Clips/A.mov', 'intact Clips/B.mov']);
  });
});

describe('renames', () => {
  test('of files with one content: those of one name, then one each; the rest is new or missing', () => {
    const history = new MhlHistory();
    const black = (path: string) => nowFile(path, 'black frame');
    record(history, [black('1/x.dpx'), black('2/y.dpx'), black('3/z.dpx')]);
    expect(record(history, [black('new/y.dpx'), black('new/w.dpx')]).found).toEqual([
      'renamed new/y.dpx from 2/y.dpx',
      'renamed new/w.dpx from 1/x.dpx',
      'missing 3/z.dpx',
    ]);
    expect(record(history, [black('new/y.dpx'), black('new/w.dpx'), black('a'), black('b')]).found).toEqual([
      'intact new/y.dpx',
      'intact new/w.dpx',
      'renamed a from 3/z.dpx',
      'new b',
    ]);
  });

  test('tens of thousands of equal frames that all got other names take no square of that', () => {
    const history = new MhlHistory();
    const frames = (prefix: string) => Array.from({ length: 30_000 }, (_, n) => nowFile(`${prefix}${n}.dpx`, 'black'));
    record(history, frames('a'));
    const { found } = record(history, frames('b'));
    expect(found.filter((one) => one.startsWith('renamed'))).toHaveLength(30_000);
  });

  test('empty files are all alike: they are new and missing', () => {
    const history = new MhlHistory();
    record(history, [nowFile('a.txt', '')]);
    expect(record(history, [nowFile('b.txt', '')]).found).toEqual(['new b.txt', 'missing a.txt']);
  });

  test('a copy beside the file is new', () => {
    const history = new MhlHistory();
    record(history, [A]);
    expect(record(history, [A, { ...A, path: 'copy.mov' }]).found).toEqual(['intact Clips/A.mov', 'new copy.mov']);
  });

  test('one that was seen happening is told for a part, too, and fails when the content changed on the way', () => {
    const history = new MhlHistory();
    record(history, [A, B]);
    const moved = { ...A, path: 'A.mov', previousPath: A.path };
    const changed = nowFile('B.mov', 'other', { previousPath: B.path });
    expect(record(history, [moved, changed], { whole: false })).toMatchObject({
      entries: ['A.mov: md5 verified, was Clips/A.mov', 'B.mov: md5 failed, was Clips/B.mov'],
      found: ['renamed A.mov from Clips/A.mov', 'altered B.mov from Clips/B.mov'],
    });
    expect(record(history, [moved, changed], { whole: false }).entries).toEqual([
      'A.mov: md5 verified',
      'B.mov: md5 failed',
    ]);
  });

  test('two files that change places, and a new one where another was', () => {
    const history = new MhlHistory();
    record(history, [A, B]);
    const swapped = [
      { ...A, path: B.path, previousPath: A.path },
      { ...B, path: A.path, previousPath: B.path },
    ];
    expect(record(history, swapped).entries).toEqual(
      ['Clips/A.mov: md5 verified, was Clips/B.mov', 'Clips/B.mov: md5 verified, was Clips/A.mov']
        .toSorted()
        .toReversed(),
    );
    expect(
      record(history, [
        { ...A, path: B.path },
        { ...B, path: A.path },
      ]).found,
    ).toEqual(['intact Clips/B.mov', 'intact Clips/A.mov']);
    const aside = { ...B, path: 'aside/A.mov', previousPath: A.path };
    const fresh = nowFile(A.path, 'edited');
    expect(record(history, [fresh, aside], { whole: false }).entries.sort()).toEqual([
      'Clips/A.mov: md5 original',
      'aside/A.mov: md5 verified, was Clips/A.mov',
    ]);
    expect(record(history, [fresh, { ...aside, previousPath: null }, { ...A, path: B.path }]).found).toEqual([
      'intact Clips/A.mov',
      'intact aside/A.mov',
      'intact Clips/B.mov',
    ]);
    expect(history.contradicted.size).toBe(0);
  });

  test('two files that both claim to be one: the first is it', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const twins = ['x.mov', 'y.mov'].map((path) => ({ ...A, path, previousPath: A.path }));
    expect(record(history, twins).found).toEqual(['renamed x.mov from Clips/A.mov', 'new y.mov']);
  });
});

describe('formats', () => {
  const SHA1 = 'a9993e364706816aba3e25717850c26c9cd0d89d';

  test('a value in another format is verified by one that the history has (published scenario 3)', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const both = { ...A, values: { ...A.values, sha1: SHA1 } };
    expect(record(history, [both]).entries).toEqual(['Clips/A.mov: md5 verified, sha1 verified']);
    expect(record(history, [{ ...A, values: { sha1: SHA1 } }]).entries).toEqual(['Clips/A.mov: sha1 verified']);
  });

  test('without one nothing is proved, and nothing is listed; another size alters it all the same', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const other = { ...A, values: { sha1: SHA1 } };
    expect(record(history, [other])).toMatchObject({
      found: ['unproved Clips/A.mov'],
      refused: [{ path: 'Clips/A.mov', reason: 'unproved' }],
      generation: null,
    });
    expect(record(history, [{ ...other, size: 7 }]).entries).toEqual(['Clips/A.mov: sha1 failed']);
  });

  test('of an altered file only what differs is listed', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const altered = { ...A, values: { md5: md5('else'), sha1: SHA1 } };
    expect(record(history, [altered]).entries).toEqual(['Clips/A.mov: md5 failed']);
  });

  test('what has to be made to go on', () => {
    const history = new MhlHistory();
    record(history, [{ ...A, values: { md5: md5('take a'), c4: 'x', xxh3: '0'.repeat(16) } }]);
    expect(formatsToHash(undefined, 'xxh64')).toEqual(['xxh64']);
    history.add([listed('B', 'md5', 'original')], []);
    expect(formatsToHash(history.files.get('B'), 'xxh64')).toEqual(['xxh64', 'md5']);
    expect(formatsToHash(history.files.get('B'), 'md5')).toEqual(['md5']);
    history.add([listed('B', 'xxh3', 'verified')], []);
    expect(formatsToHash(history.files.get('B'), 'xxh64')).toEqual(['xxh64', 'xxh3']);
  });

  function listed(path: string, format: 'md5' | 'xxh3', action: 'original' | 'verified' | null): ListedFile {
    const value = format === 'md5' ? md5('take a') : '0'.repeat(16);
    return { path, size: 6, modifiedAt: null, hashes: [{ format, value, action, hashedAt: AT }], previousPath: null };
  }

  test('a value of which a list does not say what it is worth proves nothing', () => {
    const history = new MhlHistory();
    history.add([listed('Clips/A.mov', 'md5', null)], []);
    expect(record(history, [A]).found).toEqual(['unproved Clips/A.mov']);
  });

  test('generations that vouch for different contents contradict each other, and the first counts', () => {
    const history = new MhlHistory();
    history.add([listed('Clips/A.mov', 'md5', 'original')], []);
    const value = md5('other');
    const second = {
      ...listed('Clips/A.mov', 'md5', 'verified'),
      hashes: [{ format: 'md5' as const, value, action: 'verified' as const, hashedAt: null }],
    };
    history.add([second], []);
    expect([...history.contradicted]).toEqual(['Clips/A.mov']);
    expect(history.files.get('Clips/A.mov')?.values).toEqual({ md5: md5('take a') });
  });
});

describe('what does not come into a list', () => {
  test('each with its reason; it is not missing for that', () => {
    const history = new MhlHistory();
    record(history, [A]);
    const { refused, found, entries } = record(history, [
      nowFile('latin1 \uf7e9.mov', 'x'),
      nowFile('bell\u0007.mov', 'x'),
      nowFile('../out.mov', 'x'),
      nowFile('no-hash.mov', 'x', { values: {} }),
      { ...A, values: { md5: 'ABC' } },
      B,
      B,
    ]);
    expect(refused).toEqual([
      { path: 'latin1 \uf7e9.mov', reason: 'not-utf-8' },
      { path: 'bell\u0007.mov', reason: 'not-xml' },
      { path: '../out.mov', reason: 'no-path' },
      { path: 'no-hash.mov', reason: 'no-hash' },
      { path: 'Clips/A.mov', reason: 'no-hash' },
      { path: 'Clips/B.mov', reason: 'twice' },
    ]);
    expect(entries).toEqual(['Clips/B.mov: md5 original']);
    expect(found).toEqual(['new Clips/B.mov']);
  });

  test('patterns only ever come to the list; what they leave out is neither new nor missing', () => {
    const history = new MhlHistory();
    record(history, [A, nowFile('render/cache.tmp', 'x'), nowFile('.DS_Store', 'x')]);
    const second = record(history, [A], { ignore: ['*.tmp'] });
    expect(second.found).toEqual(['intact Clips/A.mov']);
    expect(second.generation?.ignore).toEqual(['.DS_Store', 'ascmhl', 'ascmhl/', '*.tmp']);
    const third = record(history, [A, nowFile('other.tmp', 'x')]);
    expect(third.generation?.ignore).toEqual(['.DS_Store', 'ascmhl', 'ascmhl/', '*.tmp']);
    expect(third.found).toEqual(['intact Clips/A.mov']);
  });
});
