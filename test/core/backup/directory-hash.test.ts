import { createHash } from 'node:crypto';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { directoryHashes } from '../../../src/core/backup/directory-hash.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { runs } from '../../effort.ts';
import { md5 } from './listed.ts';

/** A tree as it lies on a disk: names with the content of a file, or with a folder. */
interface Tree {
  [name: string]: string | Tree;
}

/**
 * The rule once more (ASC Media Hash List Specification 1.0, appendix G), from the root down and in text: values stay hex
 * until they are hashed, where ours goes from the deepest folder up and joins bytes.
 */
function independently(tree: Tree): { content: string; structure: string } {
  const contents: string[] = [];
  const structures: string[] = [];
  for (const name of Object.keys(tree)) {
    const inside = tree[name] as string | Tree;
    const both = typeof inside === 'string' ? { content: md5(inside), structure: md5(inside) } : independently(inside);
    contents.push(both.content);
    structures.push(createHash('md5').update(name, 'utf8').update(both.structure, 'hex').digest('hex'));
  }
  const sum = (values: string[]) => {
    const hash = createHash('md5');
    for (const value of values.toSorted()) hash.update(value, 'hex');
    return hash.digest('hex');
  };
  return { content: sum(contents), structure: sum(structures) };
}

function flat(tree: Tree, below = ''): { files: { path: string; value: string }[]; folders: string[] } {
  const all = { files: [] as { path: string; value: string }[], folders: [] as string[] };
  for (const [name, inside] of Object.entries(tree)) {
    const path = fromBytes(Buffer.from(below + name));
    if (typeof inside === 'string') all.files.push({ path, value: md5(inside) });
    else {
      const more = flat(inside, `${below}${name}/`);
      all.files.push(...more.files);
      all.folders.push(path, ...more.folders);
    }
  }
  return all;
}

const name = fc
  .oneof(
    fc.constantFrom('Clips', 'a', 'A', 'caf\u00e9', 'cafe\u0301', '&<>', '\ue000 \uf799', 'a.mov', '🎬'),
    fc.string({ unit: 'grapheme' }),
  )
  .filter((text) => text !== '' && !text.includes('/') && text !== '.' && text !== '..' && text !== '__proto__');

const { tree } = fc.letrec<{ tree: Tree; node: string | Tree }>((tie) => ({
  node: fc.oneof({ maxDepth: 5, depthSize: 'small' }, fc.string({ maxLength: 3 }), tie('tree')),
  tree: fc.dictionary(name, tie('node'), { maxKeys: 6, noNullPrototype: true }),
}));

describe('hashes of folders', () => {
  test('of 1000 random trees are those of the rule written otherwise', () => {
    fc.assert(
      fc.property(tree, fc.boolean(), (whole, isShuffled) => {
        const { files, folders } = flat(whole);
        if (isShuffled) files.reverse();
        const hashes = directoryHashes({ format: 'md5', files, folders, untold: [] }, md5);
        expect(hashes.get('')).toEqual(independently(whole));
        expect(hashes.size).toBe(folders.length + 1);
        const [first] = Object.entries(whole).filter(([, inside]) => typeof inside !== 'string');
        if (first !== undefined) {
          expect(hashes.get(fromBytes(Buffer.from(first[0])))).toEqual(independently(first[1] as Tree));
        }
      }),
      { numRuns: runs(1000) },
    );
  });

  test('an empty folder is the hash of nothing (RFC 1321, A.5), and changes the structure of the one above alone', () => {
    const nothing = 'd41d8cd98f00b204e9800998ecf8427e';
    const hashes = directoryHashes({ format: 'md5', files: [], folders: ['empty'], untold: [] }, md5);
    expect(hashes.get('empty')).toEqual({ content: nothing, structure: nothing });
    expect(hashes.get('')?.content).not.toBe(nothing);
  });

  test('what moves within a folder changes its structure and not its content', () => {
    const value = md5('take');
    const at = (path: string) =>
      directoryHashes({ format: 'md5', files: [{ path, value }], folders: [], untold: [] }, md5);
    expect(at('b.mov').get('')?.content).toBe(at('a.mov').get('')?.content);
    expect(at('b.mov').get('')?.structure).not.toBe(at('a.mov').get('')?.structure);
  });

  test('folders above something that cannot be told have none', () => {
    const files = ['Day 1/A/a.mov', 'Day 1/B/b.mov', 'Day 2/c.mov'].map((path) => ({ path, value: md5(path) }));
    const hashes = directoryHashes({ format: 'md5', files, folders: [], untold: ['Day 1/B/\uf7e9.mov'] }, md5);
    expect([...hashes.keys()].sort()).toEqual(['Day 1/A', 'Day 2']);
  });
});
