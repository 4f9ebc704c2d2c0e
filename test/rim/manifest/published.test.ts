import { mkdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { Operation } from '../../../src/core/backup/mhl-generation.ts';
import type { NowFile } from '../../../src/core/backup/mhl-model.ts';
import { type HistoryResult, recordTree, type TreeNow } from '../../../src/rim/manifest/tree-histories.ts';
import { at } from './written.ts';

/**
 * Scenarios 1 to 5 of the ASC MHL project's published examples (examples/scenarios/Output of its public repository, the
 * manifests whose names end in Z): we are given what its program found and must write the very bytes that it wrote, which
 * the C4 identifiers in its chains and references stand for.
 */
const FIRST = Date.UTC(2020, 0, 16, 9, 15);
const SECOND = Date.UTC(2020, 0, 17, 14, 30);

const iso = (instant: number) => new Date(instant).toISOString().replace('.000Z', '+00:00');
const file = (path: string, size: number, xxh64: string, modified: number, hashed: number): NowFile => ({
  path,
  size,
  modifiedAt: iso(modified),
  values: { xxh64 },
  hashedAt: iso(hashed),
  previousPath: null,
});

const A002 = Date.UTC(2020, 0, 15, 13);
const A003 = Date.UTC(2020, 0, 15, 13, 30);

const a002 = (below: string, hashed: number): NowFile[] => [
  file(`${below}Clips/A002C006_141024_R2EC.mov`, 5, '0ea03b369a463d9d', A002, hashed),
  file(`${below}Clips/A002C007_141024_R2EC.mov`, 4, '7680e5f98f4a80fd', A002, hashed),
  file(`${below}Sidecar.txt`, 58, '3ab5a4166b9bde44', A002, hashed),
];
const a003 = (below: string, hashed: number): NowFile[] => [
  file(`${below}Clips/A003C011_141024_R2EC.mov`, 5, '52392f79a36d6571', A003, hashed),
  file(`${below}Clips/A003C012_141024_R2EC.mov`, 6, '5dbca064ddddd6fc', A003, hashed),
  file(`${below}Sidecar.txt`, 45, 'e5dda75a353d8b34', A003, hashed),
];

const operation = (startedAt: number): Operation => ({
  startedAt,
  creator: { host: 'myHost.local', tool: 'ascmhl.py', toolVersion: '0.3 alpha' },
  process: 'in-place',
  whole: true,
  ignore: [],
  folderFormat: 'xxh64',
});

const card = (top: string, files: NowFile[], modified: number): TreeNow => ({
  top,
  nested: [],
  files,
  folders: [{ path: 'Clips', modifiedAt: iso(modified) }],
});

function c4s(results: HistoryResult[]): Record<string, string | undefined> {
  return Object.fromEntries(results.map((one) => [one.root, one.ok ? one.wrote?.c4 : `${one.reason}: ${one.detail}`]));
}

/** Makes the first generation of the card, in a folder of that name. */
function firstOf(place: string): string {
  const top = at(`${place}/A002R2EC`);
  mkdirSync(top, { recursive: true });
  recordTree(card(top, a002('', FIRST), A002), operation(FIRST));
  return top;
}

function second(top: string, change: (files: NowFile[]) => NowFile[], more: Partial<Operation> = {}): string {
  const results = recordTree(card(top, change(a002('', SECOND)), A002), { ...operation(SECOND), ...more });
  expect(results).toMatchObject([{ ok: true, refused: [] }]);
  return readFileSync(join(top, 'ascmhl/0002_A002R2EC_2020-01-17_143000Z.mhl'), 'utf8');
}

/** Each line of a list that has a hash, without its time. */
const hashLines = (text: string) =>
  text.match(/<(?:xxh64|md5) .*/g)?.map((line) => line.replace(/ hashdate="[^"]*"/, ''));

describe('what the published examples have', () => {
  test('scenarios 1, 2 and 5: a card, again on a server the day after, and two cards in one folder', () => {
    const reels = at('Reels');
    for (const name of ['A002R2EC', 'A003R2EC']) mkdirSync(join(reels, name), { recursive: true });
    expect(c4s(recordTree(card(join(reels, 'A002R2EC'), a002('', FIRST), A002), operation(FIRST)))).toEqual({
      '': 'c43qQABrjeiU3kteaNFtgwufQRLKxgMJEZfNSj6LcZ8fKwB568U8As9eScRsnb64NfqiAYzjNUXs81tAxPB77PUThb',
    });
    recordTree(card(join(reels, 'A003R2EC'), a003('', FIRST), A003), operation(FIRST));
    const files = [...a002('A002R2EC/', SECOND), ...a003('A003R2EC/', SECOND)];
    const results = recordTree(
      {
        top: reels,
        nested: ['A003R2EC', 'A002R2EC'],
        files: [...files, file('Summary.txt', 48, '0ac48e431d4538ba', SECOND, SECOND)],
        folders: [
          { path: 'A002R2EC', modifiedAt: iso(A002) },
          { path: 'A002R2EC/Clips', modifiedAt: iso(A002) },
          { path: 'A003R2EC', modifiedAt: iso(A003) },
          { path: 'A003R2EC/Clips', modifiedAt: iso(A003) },
        ],
      },
      operation(SECOND),
    );
    expect(c4s(results)).toEqual({
      A002R2EC: 'c45kfAU9bNHnT32pMzSdio6Qb7us3xkd65ff8uAvJcgdkpoQZUKoPFckwtVHozxgftZj4uUoXrRiAiwSqNGAxLUAKM',
      A003R2EC: 'c42zP4mMY3CEpYEM9F9xde62ZbdmwRBc5gne7basp6RfZ11tZQxwcS95Gyhbrpea76em3aPE3Q823657oT27rrFYhB',
      '': expect.stringMatching(/^c4\w{88}$/),
    });
    const list = readFileSync(join(reels, 'ascmhl/0001_Reels_2020-01-17_143000Z.mhl'), 'utf8');
    // The identifier of this one is published nowhere; its text is, and these are all its values, and its length.
    expect(list).toHaveLength(2123);
    expect(list.match(/(?<=>)[0-9a-f]{16}(?=<)/g)).toEqual([
      ...['92950bc8fda076ec', '2c2ce52605558158', '8d02114c32e28cbe', 'f557f8ca8e5a88ef'],
      ...['7a82373c131cf40a', '1131a950fcc55e4b', '0ac48e431d4538ba'],
    ]);
    expect(list.match(/(?<=<c4>)\w+/g)).toEqual([c4s(results)['A002R2EC'], c4s(results)['A003R2EC']]);
    expect(readFileSync(join(reels, 'A002R2EC/ascmhl/ascmhl_chain.xml'), 'utf8')).toBe(CHAIN);
  });

  test('scenario 3: verified, with values of a second format', () => {
    const md5s = [
      'f5ac8127b3b6b85cdc13f237c6005d80',
      '614dd0e977becb4c6f7fa99e64549b12',
      '6425c5a180ca0f420dd2b25be4536a91',
    ];
    const text = second(
      firstOf('scenario-3'),
      (files) => files.map((one, index) => ({ ...one, values: { ...one.values, md5: md5s[index] ?? '' } })),
      { folderFormat: 'md5' },
    );
    // Published with xxh64 before md5, against its own schema; we keep to the schema.
    expect(hashLines(text)?.slice(2, 4)).toEqual([
      '<md5 action="verified">f5ac8127b3b6b85cdc13f237c6005d80</md5>',
      '<xxh64 action="verified">0ea03b369a463d9d</xxh64>',
    ]);
    expect(text.match(/action="verified"/g)).toHaveLength(6);
    expect(text).toMatch(/<content>\s*<md5[^>]*>6fae2da9bc6dca45486cb91bfea6db70</);
    expect(text).toMatch(/<content>\s*<md5[^>]*>202a2d71b56b080d9b089c1f4f29a4ba</);
  });

  test('scenario 4: a sidecar that changed on the way fails', () => {
    const changed = file('Sidecar.txt', 60, '70d2cf31aaa3eac4', SECOND, SECOND);
    const text = second(firstOf('scenario-4'), (files) => [...files.slice(0, 2), changed]);
    expect(hashLines(text)?.filter((line) => line.includes('action'))).toEqual([
      '<xxh64 action="verified">0ea03b369a463d9d</xxh64>',
      '<xxh64 action="verified">7680e5f98f4a80fd</xxh64>',
      '<xxh64 action="failed">70d2cf31aaa3eac4</xxh64>',
    ]);
    expect(text).toContain('<path size="60" lastmodificationdate="2020-01-17T14:30:00+00:00">Sidecar.txt</path>');
    expect(text).toMatch(/<content>\s*<xxh64[^>]*>8e52e9c3d15e055c</);
  });
});

/** Laid out as the published chains are; the identifiers are those of scenario 2. */
const CHAIN = `<?xml version="1.0" encoding="UTF-8"?>
<ascmhldirectory xmlns="urn:ASC:MHL:DIRECTORY:v2.0">
  <hashlist sequencenr="1">
    <path>0001_A002R2EC_2020-01-16_091500Z.mhl</path>
    <c4>c43qQABrjeiU3kteaNFtgwufQRLKxgMJEZfNSj6LcZ8fKwB568U8As9eScRsnb64NfqiAYzjNUXs81tAxPB77PUThb</c4>
  </hashlist>
  <hashlist sequencenr="2">
    <path>0002_A002R2EC_2020-01-17_143000Z.mhl</path>
    <c4>c45kfAU9bNHnT32pMzSdio6Qb7us3xkd65ff8uAvJcgdkpoQZUKoPFckwtVHozxgftZj4uUoXrRiAiwSqNGAxLUAKM</c4>
  </hashlist>
</ascmhldirectory>
`;
