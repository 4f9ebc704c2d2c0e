import { describe, expect, test } from 'vitest';
import { chainTrouble, renderChain } from '../../../src/core/backup/chain.ts';
import { historyName, nextGeneration } from '../../../src/core/backup/mhl-generation.ts';
import { MhlHistory } from '../../../src/core/backup/mhl-history.ts';
import type { Generation, ListedFile } from '../../../src/core/backup/mhl-model.ts';
import { NestedHistories, pathWithin } from '../../../src/core/backup/mhl-nested.ts';
import { renderManifest } from '../../../src/core/backup/mhl-xml.ts';
import { AT, nowFile, operationAt } from './listed.ts';

const EMPTY: Generation = {
  createdAt: AT,
  creator: { host: 'cart & co', tool: 'headroomd', toolVersion: '0.1.0 "x"' },
  process: 'transfer',
  folderFormat: 'xxh64',
  foldersHashedAt: AT,
  root: null,
  ignore: ['.DS_Store', '<*>'],
  files: [],
  folders: [],
  references: [],
};

const file = (path: string, more: Partial<ListedFile> = {}): ListedFile => ({
  path,
  size: null,
  modifiedAt: null,
  hashes: [],
  previousPath: null,
  ...more,
});

describe('a manifest in XML', () => {
  test('every element in the order of the schema, written by hand', () => {
    const text = [
      ...renderManifest({
        ...EMPTY,
        root: { content: '8d02114c32e28cbe', structure: 'f557f8ca8e5a88ef' },
        files: [
          file('b.mov', {
            size: 5,
            modifiedAt: AT,
            previousPath: 'a & b.mov',
            hashes: [
              { format: 'xxh64', value: '0ea03b369a463d9d', action: 'verified', hashedAt: AT },
              { format: 'md5', value: 'f5ac8127b3b6b85cdc13f237c6005d80', action: null, hashedAt: null },
            ],
          }),
        ],
        folders: [
          { path: 'Clips', modifiedAt: null, hashes: { content: '4c226b42e27d7af3', structure: '906faa843d591a9f' } },
        ],
        references: [{ path: 'A/ascmhl/0001_A.mhl', c4: 'c4x' }],
      }),
    ].join('');
    expect(text).toBe(`<?xml version="1.0" encoding="UTF-8"?>
<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">
  <creatorinfo>
    <creationdate>${AT}</creationdate>
    <hostname>cart &amp; co</hostname>
    <tool version="0.1.0 &quot;x&quot;">headroomd</tool>
  </creatorinfo>
  <processinfo>
    <process>transfer</process>
    <roothash>
      <content>
        <xxh64 hashdate="${AT}">8d02114c32e28cbe</xxh64>
      </content>
      <structure>
        <xxh64 hashdate="${AT}">f557f8ca8e5a88ef</xxh64>
      </structure>
    </roothash>
    <ignore>
      <pattern>.DS_Store</pattern>
      <pattern>&lt;*&gt;</pattern>
    </ignore>
  </processinfo>
  <hashes>
    <directoryhash>
      <path>Clips</path>
      <content>
        <xxh64 hashdate="${AT}">4c226b42e27d7af3</xxh64>
      </content>
      <structure>
        <xxh64 hashdate="${AT}">906faa843d591a9f</xxh64>
      </structure>
    </directoryhash>
    <hash>
      <path size="5" lastmodificationdate="${AT}">b.mov</path>
      <md5>f5ac8127b3b6b85cdc13f237c6005d80</md5>
      <xxh64 action="verified" hashdate="${AT}">0ea03b369a463d9d</xxh64>
      <previousPath>a &amp; b.mov</previousPath>
    </hash>
  </hashes>
  <references>
    <hashlistreference>
      <path>A/ascmhl/0001_A.mhl</path>
      <c4>c4x</c4>
    </hashlistreference>
  </references>
</hashlist>
`);
  });

  test('what lies in a folder stands before it, and the folder before what sorts after it', () => {
    const hashes = { content: 'c', structure: 's' };
    const folders = ['Clips', 'Clips/deep', 'Clips-2'].map((path) => ({ path, modifiedAt: null, hashes }));
    const files = ['Clips.txt', 'Clips/z', 'Clips/deep/\uff5e', 'Clips-2/a', 'A'].map((path) => file(path));
    const text = [...renderManifest({ ...EMPTY, folders, files })].join('');
    expect(text.match(/(?<=<path>).*(?=<\/path>)/g)).toEqual([
      ...['A', 'Clips/deep/\uff5e', 'Clips/deep', 'Clips/z', 'Clips'],
      ...['Clips-2/a', 'Clips-2', 'Clips.txt'],
    ]);
  });

  test('comes in pieces, so that no list is one text', () => {
    const files = Array.from({ length: 5000 }, (_, n) => file(`${n}.dpx`));
    const pieces = [...renderManifest({ ...EMPTY, files })];
    expect(pieces.length).toBeGreaterThan(3);
    expect(Math.max(...pieces.map((piece) => piece.length))).toBeLessThan(70_000);
  });

  test('a path that no list can have is never written wrong', () => {
    for (const path of ['\uf7e9.mov', 'a\u0001', '../a']) {
      expect(() => [...renderManifest({ ...EMPTY, files: [file(path)] })], path).toThrow(RangeError);
      expect(() => [...renderManifest({ ...EMPTY, files: [file('a', { previousPath: path })] })], path).toThrow(
        RangeError,
      );
    }
  });
});

describe('a chain', () => {
  const link = (number: number, name = `${number}.mhl`) => ({ number, file: name, c4: 'c4x' });

  test('as its schema has it', () => {
    expect(renderChain([link(1, '0001_a & b.mhl')])).toBe(`<?xml version="1.0" encoding="UTF-8"?>
<ascmhldirectory xmlns="urn:ASC:MHL:DIRECTORY:v2.0">
  <hashlist sequencenr="1">
    <path>0001_a &amp; b.mhl</path>
    <c4>c4x</c4>
  </hashlist>
</ascmhldirectory>
`);
  });

  test('its numbers run from 1 without a gap, and each names a file of its own', () => {
    expect(chainTrouble([link(1), link(2)])).toBeNull();
    expect(chainTrouble([])).toBe('it names no manifest');
    expect(chainTrouble([link(2)])).toBe('its entry 1 has the number 2');
    expect(chainTrouble([link(1), link(3)])).toBe('its entry 2 has the number 3');
    expect(chainTrouble([link(1), link(Number.NaN)])).toBe('its entry 2 has the number NaN');
    expect(chainTrouble([link(1, 'a/b.mhl')])).toBe('its entry 1 names no file');
    expect(chainTrouble([link(1, 'a'), link(2, 'a')])).toBe('it names a twice');
  });
});

describe('histories within a tree', () => {
  const nested = new NestedHistories(['Cards/A001', 'Cards', 'Cards/A001/Proxies']);

  test('a file belongs to the closest; a history to the one above it', () => {
    expect(nested.deepestFirst).toEqual(['Cards/A001/Proxies', 'Cards/A001', 'Cards', '']);
    expect(nested.closest('Cards/A001/Clips/a.mov')).toBe('Cards/A001');
    expect(nested.closest('Cards/A0011/a.mov')).toBe('Cards');
    expect(nested.closest('a.mov')).toBe('');
    expect(nested.parent('Cards/A001/Proxies')).toBe('Cards/A001');
    expect(nested.parent('Cards')).toBe('');
    expect(nested.parent('')).toBeNull();
    expect(pathWithin('Cards/A001', 'Cards/A001/Clips/a.mov')).toBe('Clips/a.mov');
  });

  test('its generation has paths of its own, and only renames that stay within it', () => {
    const part = {
      root: 'Cards/A001',
      files: [
        nowFile('Cards/A001/b.mov', 'b', { previousPath: 'Cards/A001/a.mov' }),
        nowFile('Cards/A001/c.mov', 'c', { previousPath: 'Cards/c.mov' }),
      ],
      folders: [
        { path: 'Cards/A001/Clips', modifiedAt: null },
        { path: 'Cards/A001/untold', modifiedAt: null },
        { path: 'Cards/A001/bell\u0007', modifiedAt: null },
      ],
      hashes: new Map([
        ['Cards/A001', { content: '1', structure: '2' }],
        ['Cards/A001/Clips', { content: '3', structure: '4' }],
        ['Cards/A001/bell\u0007', { content: '5', structure: '6' }],
      ]),
      references: [],
    };
    const history = new MhlHistory();
    history.add([file('a.mov', { hashes: nowHashes('b') }), file('c.mov', { hashes: nowHashes('old c') })], []);
    const { generation } = nextGeneration(history, part, operationAt(0));
    expect(generation?.root).toEqual({ content: '1', structure: '2' });
    expect(generation?.folders.map(({ path }) => path)).toEqual(['Clips']);
    expect(generation?.files.map(({ path, previousPath }) => [path, previousPath])).toEqual([
      ['b.mov', 'a.mov'],
      ['c.mov', null],
    ]);
  });

  test('what it is called after', () => {
    expect(historyName('/media/shelf-a/Lock Keepers/', '')).toBe('Lock Keepers');
    expect(historyName('/media/shelf-a', 'Cards/A001')).toBe('A001');
    expect(historyName('/', '')).toBe('');
    expect(historyName('/media', 'bell\u0007')).toBeNull();
  });

  function nowHashes(content: string): ListedFile['hashes'] {
    const { md5 = '' } = nowFile('x', content).values;
    return [{ format: 'md5', value: md5, action: 'original', hashedAt: AT }];
  }
});
