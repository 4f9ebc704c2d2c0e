import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { fromDirent, toAbsolute } from '../../../src/rim/base/byte-path.ts';

const root = mkdtempSync(join(tmpdir(), 'byte-path-'));
afterAll(() => rmSync(root, { recursive: true }));

describe('toAbsolute', () => {
  test('plain text stays text', () => {
    expect(toAbsolute('/media/stripe', 'Saltmarsh/Übung.mov')).toBe('/media/stripe/Saltmarsh/Übung.mov');
    expect(toAbsolute('/', 'Saltmarsh')).toBe('/Saltmarsh');
    expect(toAbsolute('/media/stripe', '')).toBe('/media/stripe');
  });

  test('other bytes are handed on exactly', () => {
    expect(toAbsolute('/m', 'caf\uf7e9')).toEqual(Buffer.from([0x2f, 0x6d, 0x2f, 0x63, 0x61, 0x66, 0xe9]));
  });
});

test('a file whose name is no UTF-8 is found in its folder and opened again', () => {
  const raw = Buffer.from([0x41, 0xff, 0xc3, 0x28, 0x2e, 0x6d, 0x6f, 0x76]);
  writeFileSync(Buffer.concat([Buffer.from(`${root}/`), raw]), 'content');
  const [name] = readdirSync(root, { encoding: 'buffer' });
  expect(name).toEqual(raw);
  const path = fromDirent(name ?? Buffer.alloc(0));
  expect(readFileSync(toAbsolute(root, path), 'utf8')).toBe('content');
});
