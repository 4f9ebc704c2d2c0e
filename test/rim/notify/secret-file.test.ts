import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { readSecret } from '../../../src/rim/notify/secret-file.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-secret-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

function file(content: string, mode: number): string {
  const path = join(folder, 'secret');
  writeFileSync(path, content);
  chmodSync(path, mode);
  return path;
}

test('what only its owner may read is read, without its line end', () => {
  expect(readSecret(file('a secret \n', 0o600), undefined)).toBe('a secret ');
  expect(readSecret(file('b', 0o400), undefined)).toBe('b');
});

test('credentials of the service', () => {
  file('c\n', 0o440);
  expect(readSecret('credential:secret', folder)).toBe('c');
  expect(() => readSecret('credential:secret', undefined)).toThrow(/CREDENTIALS_DIRECTORY is not set/);
});

test.each([0o640, 0o604, 0o620, 0o666])('mode %o is refused, and the secret is not told', (mode) => {
  const path = file('the-word', mode);
  expect(() => readSecret(path, undefined)).toThrow(/others may read or write it \(mode .*chmod 600/);
  expect(() => readSecret(path, undefined)).not.toThrow(/the-word/);
});

test('what is missing, empty, too long or no file is told', () => {
  expect(() => readSecret(join(folder, 'none'), undefined)).toThrow(/cannot be used: it cannot be read: ENOENT/);
  expect(() => readSecret(file('\n', 0o600), undefined)).toThrow(/it is empty/);
  expect(() => readSecret(file('x'.repeat(5_000), 0o600), undefined)).toThrow(/more than 4096 bytes/);
  chmodSync(folder, 0o700);
  expect(() => readSecret(folder, undefined)).toThrow(/it is no file/);
});
