import { execFileSync } from 'node:child_process';
import { lstatSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Operation } from '../../../src/core/backup/mhl-generation.ts';
import type { HashFormat, NowFile } from '../../../src/core/backup/mhl-model.ts';
import { dateTimeOf, dateTimeOfNs } from '../../../src/core/backup/mhl-time.ts';
import { joinPath } from '../../../src/core/intake/path-text.ts';
import { fromDirent, toAbsolute } from '../../../src/rim/base/byte-path.ts';
import { digests } from '../../../src/rim/manifest/digests.ts';
import type { HistoryResult, TreeNow } from '../../../src/rim/manifest/tree-histories.ts';

/** Real trees, walked and hashed as a copy engine would tell them. */

const START = Date.UTC(2027, 2, 4, 21);
const DAY = 86_400_000;

/** The operation of so many days after the first. */
export function operation(day: number, more: Partial<Operation> = {}): Operation {
  return {
    startedAt: START + day * DAY,
    creator: { host: 'cart', tool: 'headroomd', toolVersion: '0.1.0' },
    process: 'transfer',
    whole: true,
    ignore: [],
    folderFormat: 'xxh64',
    ...more,
  };
}

/** Writes files of these contents below a folder. */
export function lay(top: string, files: Readonly<Record<string, string>>): string {
  mkdirSync(top, { recursive: true });
  for (const [path, content] of Object.entries(files)) {
    mkdirSync(dirname(join(top, path)), { recursive: true });
    writeFileSync(join(top, path), content);
  }
  return top;
}

/** What lies below a folder now, each file with its value in these formats. */
export function walk(top: string, formats: readonly HashFormat[] = ['xxh64']): TreeNow {
  const now = { top, nested: [] as string[], files: [] as NowFile[], folders: [] as TreeNow['folders'][number][] };
  const visit = (folder: string) => {
    for (const entry of readdirSync(toAbsolute(top, folder), { encoding: 'buffer' }).sort(Buffer.compare)) {
      const path = joinPath(folder, fromDirent(entry));
      const absolute = toAbsolute(top, path);
      const stat = lstatSync(absolute, { bigint: true });
      const modifiedAt = dateTimeOfNs(stat.mtimeNs);
      if (stat.isDirectory()) {
        if (entry.equals(Buffer.from('ascmhl')) && folder !== '') now.nested.push(folder);
        now.folders.push({ path, modifiedAt });
        visit(path);
      } else if (stat.isFile()) {
        const bytes = readFileSync(absolute);
        const values = Object.fromEntries(formats.map((format) => [format, digests[format](bytes)]));
        now.files.push({
          path,
          size: bytes.length,
          modifiedAt,
          values,
          hashedAt: dateTimeOf(START),
          previousPath: null,
        });
      }
    }
  };
  visit('');
  return now;
}

/** Of each history its trouble, or what was found in a few words. */
export function inShort(results: readonly HistoryResult[]): Record<string, string> {
  return Object.fromEntries(
    results.map((one) => {
      if (!one.ok) return [one.root, `${one.reason} ${one.file}`];
      const words = Object.entries(one.counts).flatMap(([kind, count]) => (count === 0 ? [] : [`${count} ${kind}`]));
      const refused = one.refused.map(({ path, reason }) => `${path} ${reason}`);
      const wrote = one.wrote === null ? 'nothing written' : `generation ${one.wrote.number}`;
      return [one.root, [wrote, ...words, ...refused, ...(one.repaired ? ['repaired'] : [])].join(', ')];
    }),
  );
}

export function manifests(top: string): string[] {
  return readdirSync(join(top, 'ascmhl'))
    .filter((name) => name.endsWith('.mhl'))
    .sort();
}

/** The XSDs of the ASC MHL project (test/fixtures/mhl), held against everything in one history's folder. */
export function validate(top: string): void {
  const schemas = join(import.meta.dirname, '../../fixtures/mhl');
  const folder = join(top, 'ascmhl');
  const check = (schema: string, ...files: string[]) =>
    execFileSync(
      'xmllint',
      ['--noout', '--nonet', '--schema', join(schemas, schema), ...files.map((file) => join(folder, file))],
      {
        stdio: ['ignore', 'ignore', 'pipe'],
      },
    );
  check('ASCMHL.xsd', ...manifests(top));
  check('ASCMHLDirectory.xsd', 'ascmhl_chain.xml');
}
