import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readSmallFile } from '../../../src/rim/base/small-file.ts';

let folder: string;
const at = (name: string) => join(folder, name);

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-small-'));
  writeFileSync(at('list.xml'), 'some words');
  writeFileSync(at('empty'), '');
  symlinkSync('list.xml', at('link'));
  mkdirSync(at('dir'));
  execFileSync('mkfifo', [at('pipe')]);
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

test('a file is read whole, also by the bytes of its name, also an empty one', () => {
  expect(readSmallFile(at('list.xml'), 100)).toEqual({ ok: true, bytes: new TextEncoder().encode('some words') });
  expect(readSmallFile(Buffer.from(at('empty')), 100)).toEqual({ ok: true, bytes: new Uint8Array(0) });
});

test.each([
  ['one byte too long', 'list.xml', 9, 'it has 10 bytes, more than any such file'],
  ['absent', 'nothing', 100, 'no such file or directory (ENOENT)'],
  ['a link', 'link', 100, 'too many symbolic links encountered (ELOOP)'],
  ['a folder', 'dir', 100, 'it is no regular file'],
  // Nobody writes into it: to open it for reading would wait for ever.
  ['a pipe', 'pipe', 100, 'it is no regular file'],
])('%s: told, not thrown', (_name, file, most, detail) => {
  expect(readSmallFile(at(file), most)).toEqual({ ok: false, detail });
});
