import { createHash } from 'node:crypto';
import type { Operation } from '../../../src/core/backup/mhl-generation.ts';
import type { HashValues, NowFile } from '../../../src/core/backup/mhl-model.ts';

/** Files as a copy engine would tell them, and the operation that lists them. */

export const AT = '2027-03-04T21:00:00+00:00';

export function md5(bytes: Uint8Array | string): string {
  return createHash('md5').update(bytes).digest('hex');
}

/** A file of this content, with its MD5 and what else is said. */
export function nowFile(path: string, content: string, more: Partial<NowFile> = {}): NowFile {
  const values: HashValues = { md5: md5(content) };
  return { path, size: content.length, modifiedAt: null, values, hashedAt: AT, previousPath: null, ...more };
}

export function operationAt(startedAt: number, more: Partial<Operation> = {}): Operation {
  return {
    startedAt,
    creator: { host: 'cart', tool: 'headroomd', toolVersion: '0.1.0' },
    process: 'transfer',
    whole: true,
    ignore: [],
    folderFormat: 'md5',
    ...more,
  };
}
