import { chmodSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { pageToken, prepareStateDir, storedSnapshot, storeSnapshot } from '../../../src/rim/system/state-files.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-state-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

test('the state folder is made with its parents, and taken from others', () => {
  const state = join(folder, 'a', 'b');
  prepareStateDir(state);
  expect(statSync(state).mode & 0o777).toBe(0o700);
  chmodSync(state, 0o755);
  prepareStateDir(state);
  expect(statSync(state).mode & 0o777).toBe(0o700);
});

test('a file in its place is told with what to do', () => {
  const file = join(folder, 'state');
  writeFileSync(file, '');
  expect(() => prepareStateDir(file)).toThrow(
    /state cannot be used: it is a file, not a folder\. Name another with --state DIR/,
  );
});

test('the token is random, kept, and made anew when the file was spoilt', () => {
  const token = pageToken(folder);
  expect(token).toMatch(/^[0-9a-f]{64}$/);
  expect(pageToken(folder)).toBe(token);
  expect(statSync(join(folder, 'token')).mode & 0o777).toBe(0o600);
  writeFileSync(join(folder, 'token'), 'short');
  const other = pageToken(folder);
  expect(other).toMatch(/^[0-9a-f]{64}$/);
  expect(other).not.toBe(token);
});

test('a snapshot is stored whole or not at all', () => {
  expect(storedSnapshot(folder)).toBeNull();
  storeSnapshot(folder, '{"a":1}');
  expect(storedSnapshot(folder)?.json).toBe('{"a":1}');
  // The temporary name is taken by a folder: the write fails, and the old one stands.
  mkdirSync(join(folder, 'last-snapshot.json.new'));
  expect(() => storeSnapshot(folder, '{"a":2}')).toThrow();
  expect(readFileSync(join(folder, 'last-snapshot.json'), 'utf8')).toBe('{"a":1}');
  expect(readdirSync(folder).sort()).toEqual(['last-snapshot.json', 'last-snapshot.json.new']);
});
