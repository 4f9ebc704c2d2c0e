import { expect, test } from 'vitest';
import { type CopyFailure, type CopyStep, failureOf, failureWords } from '../../../src/core/backup/copy-failure.ts';

/** By what errno(3) and the pages of open(2), read(2), write(2), fsync(2) and link(2) say of each. */
const CASES: [code: string | null, step: CopyStep, reason: CopyFailure][] = [
  ['ENOSPC', 'write-copy', 'shelf-full'],
  ['EDQUOT', 'write-copy', 'shelf-full'],
  ['EROFS', 'write-copy', 'shelf-read-only'],
  ['EIO', 'write-copy', 'shelf-damaged'],
  ['EIO', 'flush', 'shelf-damaged'],
  ['EIO', 'read-back', 'shelf-damaged'],
  ['EIO', 'read-source', 'source-unreadable'],
  ['ENOENT', 'read-source', 'source-missing'],
  ['ELOOP', 'read-source', 'source-missing'],
  ['EACCES', 'read-source', 'not-permitted'],
  ['EPERM', 'publish', 'not-permitted'],
  ['EEXIST', 'publish', 'target-exists'],
  ['ENAMETOOLONG', 'write-copy', 'name-refused'],
  ['EFBIG', 'write-copy', 'too-large'],
  ['EMFILE', 'look', 'no-resources'],
  ['ENODEV', 'write-copy', 'shelf-gone'],
  ['ENODEV', 'read-source', 'source-unreadable'],
  ['ESTALE', 'read-back', 'shelf-gone'],
  ['EWHATEVER', 'publish', 'failed'],
  ['EWHATEVER', 'read-source', 'failed'],
  [null, 'publish', 'failed'],
];

test.each(CASES)('%s when it comes at %s is %s, in words', (code, step, reason) => {
  expect(failureOf(code, step)).toBe(reason);
  const { message, advice } = failureWords(reason, code);
  if (code !== null) expect(message).toContain(code);
  expect(advice.length).toBeGreaterThan(10);
  expect(failureWords(reason, null).message).not.toContain('(');
});
