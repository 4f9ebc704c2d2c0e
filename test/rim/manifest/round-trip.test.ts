import { execFileSync } from 'node:child_process';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { nextGeneration } from '../../../src/core/backup/mhl-generation.ts';
import { MhlHistory } from '../../../src/core/backup/mhl-history.ts';
import type { NowFile } from '../../../src/core/backup/mhl-model.ts';
import { renderManifest } from '../../../src/core/backup/mhl-xml.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { readHistoryList } from '../../../src/rim/manifest/history-list.ts';
import { operation } from './trees.ts';
import { at } from './written.ts';

/** Names of any bytes a file system takes: text of every script, control characters, what is no UTF-8. */
const name = fc
  .oneof(
    fc.string({ unit: 'binary', minLength: 1, maxLength: 8 }).map((text) => Buffer.from(text)),
    fc.uint8Array({ minLength: 1, maxLength: 8 }).map((bytes) => Buffer.from(bytes)),
    fc
      .constantFrom(']]>', '<!--', '&amp;', '&#x41;', '"', ' a ', '\r\n', '\ufeffa', '\u2028', '%s', 'e\u0301')
      .map((text) => Buffer.from(text)),
  )
  .filter((bytes) => !bytes.includes(0) && !bytes.includes(0x2f) && !/^\.\.?$/.test(bytes.toString('latin1')));
const path = fc
  .array(name, { minLength: 1, maxLength: 3 })
  .map((names) => fromBytes(Buffer.from(names.map((one) => one.toString('latin1')).join('/'), 'latin1')));

test('whatever the names: the list is valid, and has each file by the very bytes of its name, or says why not', () => {
  fc.assert(
    fc.property(fc.uniqueArray(path, { minLength: 1, maxLength: 40 }), (paths) => {
      const files = paths.map((one, index): NowFile => {
        const xxh64 = index.toString(16).padStart(16, '0');
        return { path: one, size: index, modifiedAt: null, values: { xxh64 }, hashedAt: null, previousPath: null };
      });
      const part = { root: '', files, folders: [], hashes: new Map(), references: [] };
      const { generation, refused } = nextGeneration(new MhlHistory(), part, operation(0));
      expect((generation?.files.length ?? 0) + refused.length).toBe(
        paths.filter((one) => !one.split('/').includes('ascmhl')).length,
      );
      if (generation === null) return;
      const list = at('any.mhl');
      writeFileSync(list, [...renderManifest(generation)].join(''));
      execFileSync(
        'xmllint',
        ['--noout', '--nonet', '--schema', join(import.meta.dirname, '../../fixtures/mhl/ASCMHL.xsd'), list],
        { stdio: ['ignore', 'ignore', 'pipe'] },
      );
      const read = readHistoryList(list);
      expect(read.trouble).toBeNull();
      const told = new Map(read.files.map((file) => [file.path, file.hashes[0]?.value]));
      const left = new Set(refused.map((one) => one.path));
      expect(told).toEqual(
        new Map(files.filter((file) => !left.has(file.path)).map((file) => [file.path, file.values.xxh64])),
      );
      expect(read.ignore).toEqual(generation.ignore);
      expect(read.tool).toBe('headroomd');
    }),
  );
});
