import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import type { Operation } from '../../../src/core/backup/mhl-generation.ts';
import type { NowFile } from '../../../src/core/backup/mhl-model.ts';
import { readHistory } from '../../../src/rim/manifest/history-reader.ts';
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

test('a card, again on a server the day after, and both cards in one folder', async () => {
  const { mkdirSync } = await import('node:fs');
  const reels = at('Reels');
  mkdirSync(join(reels, 'A002R2EC'), { recursive: true });
  mkdirSync(join(reels, 'A003R2EC'));

  // Scenarios 1, 2 and 5, first generations.
  const first = operation(FIRST);
  expect(c4s(recordTree(card(join(reels, 'A002R2EC'), a002('', FIRST), A002), first))).toEqual({
    '': 'c43qQABrjeiU3kteaNFtgwufQRLKxgMJEZfNSj6LcZ8fKwB568U8As9eScRsnb64NfqiAYzjNUXs81tAxPB77PUThb',
  });
  expect(c4s(recordTree(card(join(reels, 'A003R2EC'), a003('', FIRST), A003), first))).toHaveProperty(
    [''],
    expect.stringMatching(/^c4/),
  );

  // Scenario 5: two second generations, and a first one above them that refers to both.
  const results = recordTree(
    {
      top: reels,
      nested: ['A002R2EC', 'A003R2EC'],
      files: [
        ...a002('A002R2EC/', SECOND),
        ...a003('A003R2EC/', SECOND),
        file('Summary.txt', 48, '0ac48e431d4538ba', SECOND, SECOND),
      ],
      folders: [
        { path: 'A002R2EC', modifiedAt: iso(A002) },
        { path: 'A002R2EC/Clips', modifiedAt: iso(A002) },
        { path: 'A003R2EC', modifiedAt: iso(A003) },
        { path: 'A003R2EC/Clips', modifiedAt: iso(A003) },
      ],
    },
    operation(SECOND),
  );
  expect(c4s(results)).toMatchObject({
    A002R2EC: 'c45kfAU9bNHnT32pMzSdio6Qb7us3xkd65ff8uAvJcgdkpoQZUKoPFckwtVHozxgftZj4uUoXrRiAiwSqNGAxLUAKM',
    A003R2EC: 'c42zP4mMY3CEpYEM9F9xde62ZbdmwRBc5gne7basp6RfZ11tZQxwcS95Gyhbrpea76em3aPE3Q823657oT27rrFYhB',
  });
  console.log(readFileSync(join(reels, 'ascmhl/0001_Reels_2020-01-17_143000Z.mhl'), 'utf8'), c4s(results));
  expect(readHistory(reels, 'A002R2EC', 'x')).toMatchObject({ ok: true, chain: [{ number: 1 }, { number: 2 }] });
});
