import {
  appendFileSync,
  copyFileSync,
  mkdirSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  symlinkSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { beforeEach, describe, expect, test } from 'vitest';
import { checkTree, recordTree } from '../../../src/rim/manifest/tree-histories.ts';
import { inShort, lay, manifests, operation, validate, walk } from './trees.ts';
import { at } from './written.ts';

let top: string;
let trees = 0;
const CARD = { 'Clips/A.mov': 'take a', 'Clips/B.mov': 'take b', 'Notes.txt': 'sunny' };

beforeEach(() => {
  trees += 1;
  top = lay(at(`tree-${trees}/Saltmarsh`), CARD);
});

/** As on so many days: what is there is compared and listed. */
const record = (day: number, more = {}) => inShort(recordTree(walk(top), operation(day, more)));
const check = () => inShort(checkTree(walk(top), operation(9)));
const history = (name: string) => join(top, 'ascmhl', name);
const FIRST = '0001_Saltmarsh_2027-03-04_210000Z.mhl';
const SECOND = '0002_Saltmarsh_2027-03-05_210000Z.mhl';
const CHAIN = 'ascmhl_chain.xml';

describe('three generations of a real tree', () => {
  test('named after folder and start, in a chain without gaps, valid by the schemas', () => {
    expect(record(0)).toEqual({ '': 'generation 1, 3 new' });
    expect(record(1)).toEqual({ '': 'generation 2, 3 intact' });
    lay(top, { 'Clips/C.mov': 'take c' });
    expect(record(2)).toEqual({ '': 'generation 3, 3 intact, 1 new' });
    expect(manifests(top)).toEqual([FIRST, SECOND, '0003_Saltmarsh_2027-03-06_210000Z.mhl']);
    expect(readdirSync(join(top, 'ascmhl')).sort()).toEqual([...manifests(top), CHAIN]);
    validate(top);
    expect(check()).toEqual({ '': 'nothing written, 4 intact' });
  });

  test('manifests that stand are not touched, and what reads them changes nothing', () => {
    record(0);
    const before = readFileSync(history(FIRST));
    record(1);
    expect(readFileSync(history(FIRST))).toEqual(before);
    const names = readdirSync(join(top, 'ascmhl'));
    check();
    expect(readdirSync(join(top, 'ascmhl'))).toEqual(names);
  });

  test('altered, missing, renamed and new are told apart, in the list and to who asks', () => {
    record(0);
    writeFileSync(join(top, 'Clips/A.mov'), 'take A');
    renameSync(join(top, 'Clips/B.mov'), join(top, 'Clips/best.mov'));
    rmSync(join(top, 'Notes.txt'));
    lay(top, { 'Clips/C.mov': 'take c' });
    expect(check()).toEqual({ '': 'nothing written, 1 renamed, 1 altered, 1 new, 1 missing' });
    expect(checkTree(walk(top), operation(1))[0]).toMatchObject({
      found: [
        { kind: 'altered', file: { path: 'Clips/A.mov' }, wrong: ['xxh64'] },
        { kind: 'new', file: { path: 'Clips/C.mov' } },
        { kind: 'renamed', file: { path: 'Clips/best.mov' }, from: 'Clips/B.mov' },
        { kind: 'missing', path: 'Notes.txt', size: 5 },
      ],
    });
    expect(record(1)).toEqual({ '': 'generation 2, 1 renamed, 1 altered, 1 new, 1 missing' });
    validate(top);
    const text = readFileSync(history(SECOND), 'utf8');
    expect(text.match(/action="\w+"|<previousPath>.*<\/previousPath>/g)).toEqual([
      'action="failed"',
      'action="original"',
      'action="verified"',
      '<previousPath>Clips/B.mov</previousPath>',
    ]);
    expect(record(2)).toEqual({ '': 'generation 3, 2 intact, 1 altered, 1 missing' });
    expect(readFileSync(history(manifests(top)[2] ?? ''), 'utf8')).not.toContain('previousPath');
  });

  test('two operations of one second make two manifests', () => {
    record(0);
    record(0);
    expect(manifests(top)).toEqual([FIRST, FIRST.replace('0001', '0002')]);
  });

  test('an empty tree has nothing to list', () => {
    top = lay(at(`tree-${trees}/empty`), {});
    expect(record(0)).toEqual({ '': 'nothing written' });
    expect(readdirSync(top)).toEqual([]);
  });

  test.each(['c4', 'md5', 'sha1', 'xxh128', 'xxh3', 'xxh64'] as const)('in %s', (format) => {
    const list = () => inShort(recordTree(walk(top, [format]), operation(0, { folderFormat: format })));
    expect(list()).toEqual({ '': 'generation 1, 3 new' });
    expect(list()).toEqual({ '': 'generation 2, 3 intact' });
    validate(top);
    expect(readFileSync(history(FIRST), 'utf8')).toContain(`<${format} action="original"`);
  });

  test('in all formats at once', () => {
    const all = walk(top, ['xxh64', 'md5', 'c4', 'sha1', 'xxh3', 'xxh128']);
    expect(inShort(recordTree(all, operation(0)))).toEqual({ '': 'generation 1, 3 new' });
    validate(top);
  });
});

describe('a history that cannot be trusted gets no generation', () => {
  beforeEach(() => {
    record(0);
    record(1);
  });

  test.each<[string, () => void, string]>([
    ['a byte more in a manifest', () => appendFileSync(history(FIRST), '\n'), `modified-manifest ascmhl/${FIRST}`],
    ['a cut manifest', () => truncateSync(history(SECOND), 300), `modified-manifest ascmhl/${SECOND}`],
    [
      'two manifests in each other\u2019s place',
      () => copyFileSync(history(FIRST), history(SECOND)),
      `modified-manifest ascmhl/${SECOND}`,
    ],
    ['a manifest is gone', () => rmSync(history(FIRST)), `missing-manifest ascmhl/${FIRST}`],
    [
      'a manifest has another name',
      () => renameSync(history(SECOND), history('x.mhl')),
      `missing-manifest ascmhl/${SECOND}`,
    ],
    ['the chain is gone', () => rmSync(history(CHAIN)), 'no-chain ascmhl'],
    ['the chain is cut', () => truncateSync(history(CHAIN), 300), `damaged-chain ascmhl/${CHAIN}`],
    ['the chain is empty', () => truncateSync(history(CHAIN), 0), `damaged-chain ascmhl/${CHAIN}`],
    ['the chain has a gap', () => edit(CHAIN, 'sequencenr="2"', 'sequencenr="3"'), `damaged-chain ascmhl/${CHAIN}`],
    ['the chain names a file elsewhere', () => edit(CHAIN, SECOND, '../secret.mhl'), `damaged-chain ascmhl/${CHAIN}`],
    ['the chain has no identifier', () => edit(CHAIN, /<c4>\w+/, '<c4>c4'), `damaged-chain ascmhl/${CHAIN}`],
    ['the chain is other XML', () => writeFileSync(history(CHAIN), '<hashlist/>'), `damaged-chain ascmhl/${CHAIN}`],
    ['a manifest is a link', () => link(FIRST), `unreadable ascmhl`],
    ['the folder is a link', () => linkFolder(), 'unreadable ascmhl'],
  ])('%s', (_, harm, told) => {
    harm();
    const names = readdirSync(join(top, 'ascmhl'));
    expect(check()).toEqual({ '': told });
    expect(record(2)).toEqual({ '': told });
    expect(readdirSync(join(top, 'ascmhl'))).toEqual(names);
  });

  test('a manifest that is as its chain has it, and no list', () => {
    writeFileSync(history(FIRST), 'no list');
    // The chain is given the identifier that we tell of it.
    const told = checkTree(walk(top), operation(2))[0];
    const c4 = told?.ok === false ? /has (c4\w{88})\.$/.exec(told.detail)?.[1] : undefined;
    edit(CHAIN, /(?<=1">[\s\S]*?<c4>)\w+/, c4 ?? '');
    expect(check()).toEqual({ '': `damaged-manifest ascmhl/${FIRST}` });
  });

  test('a manifest of another that has the next number: who is to come is not known', () => {
    writeFileSync(history('0003_Saltmarsh_2027-03-06_080000Z.mhl'), '<hashlist version="2.0"/>');
    expect(check()).toEqual({ '': 'nothing written, 3 intact' });
    expect(record(2)).toEqual({ '': 'taken ascmhl/0003_Saltmarsh_2027-03-06_080000Z.mhl' });
  });

  test('what else lies there is nobody\u2019s business', () => {
    writeFileSync(history('README.txt'), 'hello');
    mkdirSync(history('old'));
    copyFileSync(history(FIRST), history('0001_copy.mhl'));
    expect(record(2)).toEqual({ '': 'generation 3, 3 intact' });
  });

  function edit(name: string, from: string | RegExp, to: string): void {
    writeFileSync(history(name), readFileSync(history(name), 'utf8').replace(from, to));
  }

  function link(name: string): void {
    renameSync(history(name), at(`elsewhere-${trees}`));
    symlinkSync(at(`elsewhere-${trees}`), history(name));
  }

  function linkFolder(): void {
    renameSync(join(top, 'ascmhl'), at(`folder-${trees}`));
    symlinkSync(at(`folder-${trees}`), join(top, 'ascmhl'));
  }
});

describe('histories within a tree', () => {
  test('files belong to the closest; lists above refer to those below; each goes on', () => {
    top = lay(at(`tree-${trees}/Reels`), { 'Summary.txt': 'two cards' });
    for (const card of ['A001', 'Day 2/A002']) {
      recordTree(walk(lay(join(top, card), CARD)), operation(0));
    }
    expect(record(1)).toEqual({
      A001: 'generation 2, 3 intact',
      'Day 2/A002': 'generation 2, 3 intact',
      '': 'generation 1, 1 new',
    });
    const list = readFileSync(join(top, 'ascmhl/0001_Reels_2027-03-05_210000Z.mhl'), 'utf8');
    expect(list.match(/<path[^>]*>.*<\/path>/g)?.map((path) => path.replace(/<[^>]*>/g, ''))).toEqual([
      'A001',
      'Day 2/A002',
      'Day 2',
      'Summary.txt',
      'A001/ascmhl/0002_A001_2027-03-05_210000Z.mhl',
      'Day 2/A002/ascmhl/0002_A002_2027-03-05_210000Z.mhl',
    ]);
    for (const each of ['', 'A001', 'Day 2/A002']) validate(join(top, each));

    rmSync(join(top, 'A001/Clips/A.mov'));
    expect(record(2)).toEqual({
      A001: 'generation 3, 2 intact, 1 missing',
      'Day 2/A002': 'generation 3, 3 intact',
      '': 'generation 2, 1 intact',
    });
  });

  test('three deep, and one that cannot be trusted does not hold up the others', () => {
    const below = lay(join(top, 'Proxies'), { 'A.mp4': 'a' });
    const deepest = lay(join(below, 'Audio'), { 'A.wav': 'a' });
    for (const one of [deepest, below]) recordTree(walk(one), operation(0));
    expect(record(1)).toEqual({
      'Proxies/Audio': 'generation 3, 1 intact',
      Proxies: 'generation 2, 1 intact',
      '': 'generation 1, 3 new',
    });
    appendFileSync(join(below, 'ascmhl', manifests(below)[0] ?? ''), ' ');
    expect(record(2)).toEqual({
      'Proxies/Audio': 'generation 4, 1 intact',
      Proxies: `modified-manifest Proxies/ascmhl/${manifests(below)[0]}`,
      '': 'generation 2, 3 intact',
    });
    validate(top);
  });
});

describe('names that lists cannot have', () => {
  test('are told; the rest is listed and valid; folders above them have no hash', () => {
    lay(top, {
      'Clips/&<>"\'.mov': 'x',
      'Clips/ two  spaces .mov': 'x',
      'Clips/tab\tline\nreturn\r.mov': 'y',
      'caf\u00e9/🎬.mov': 'z',
    });
    writeFileSync(Buffer.concat([Buffer.from(`${top}/Clips/latin1 `), Buffer.of(0xe9)]), 'x');
    lay(top, { 'Clips/bell\u0007.mov': 'x' });
    expect(Object.values(record(0))[0]?.split(', ').sort()).toEqual([
      '7 new',
      'Clips/bell\u0007.mov not-xml',
      'Clips/latin1 \uf7e9 not-utf-8',
      'generation 1',
    ]);
    validate(top);
    const text = readFileSync(history(FIRST), 'utf8');
    expect(text).not.toContain('roothash');
    expect(text.match(/<directoryhash>\n.*\n/g)).toHaveLength(1);
    expect(record(1)).toMatchObject({ '': expect.stringContaining('7 intact') });
  });

  test('a folder that no manifest can be called after', () => {
    const odd = `${at(`tree-${trees}`)}/bell\u0007`;
    expect(inShort(recordTree(walk(lay(odd, CARD)), operation(0)))).toEqual({ '': 'no-name ' });
  });
});
