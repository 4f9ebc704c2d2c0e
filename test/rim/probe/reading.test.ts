import { spawnSync } from 'node:child_process';
import { closeSync, openSync, statSync, symlinkSync, utimesSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import {
  adaptiveReader,
  inWords,
  LARGEST_READ,
  openForReading,
  statOf as openStat,
  ShortRead,
  whatChanged,
} from '../../../src/rim/probe/reading.ts';
import { scratchFolder, statOf } from './files.ts';

const plainly = () => ({ reading: (run: () => void) => run(), block: Buffer.alloc(LARGEST_READ) });

const scratch = scratchFolder();
afterAll(scratch.remove);

function fileOf(name: string, bytes: Buffer): string {
  const path = join(scratch.path, name);
  writeFileSync(path, bytes);
  return path;
}

describe('the reader of a parser that jumps about', () => {
  const size = 8_000_000;
  const content = Buffer.alloc(size);
  for (let i = 0; i < size; i += 4) content.writeUInt32BE(i, i);
  const path = fileOf('counted', content);

  test('reads 64 KiB, doubles to 1 MiB, takes 16 KiB after a jump, and gives the right bytes', () => {
    const fd = openSync(path, 'r');
    let signs = 0;
    const read = adaptiveReader(fd, size, {
      reading: (run) => {
        signs += 1;
        run();
      },
      block: Buffer.alloc(LARGEST_READ),
    });
    const lengths: number[] = [];
    let from = 0;
    for (const jump of [null, null, null, null, null, null, 7_000_000, null, 20_000]) {
      if (jump !== null) from = jump;
      const got = read(4_000_000, from);
      expect(Buffer.compare(got, content.subarray(from, from + got.length))).toBe(0);
      lengths.push(got.length / 1024);
      from += got.length;
    }
    closeSync(fd);
    expect(lengths).toEqual([64, 128, 256, 512, 1024, 1024, 16, 32, 16]);
    expect(signs).toBe(9);
  });

  test('never reads past the end, nor more than was asked', () => {
    const fd = openSync(path, 'r');
    const read = adaptiveReader(fd, size, plainly());
    expect(read(100, 0).length).toBe(100);
    expect(read(65_536, size - 40).length).toBe(40);
    closeSync(fd);
  });

  test('throws where the file ends before its known size', () => {
    const fd = openSync(fileOf('short', Buffer.alloc(70_000)), 'r');
    const read = adaptiveReader(fd, 100_000, plainly());
    expect(read(1_000_000, 0).length).toBe(65_536);
    expect(() => read(1_000_000, 65_536)).toThrow(ShortRead);
    closeSync(fd);
  });
});

describe('opening', () => {
  test('leaves the access time alone', () => {
    const path = fileOf('atime', Buffer.alloc(5000, 1));
    utimesSync(path, new Date('2027-01-01'), new Date('2027-02-01'));
    const { fd } = openForReading(path, statOf(path));
    adaptiveReader(fd, 5000, plainly())(5000, 0);
    closeSync(fd);
    expect(statSync(path).atime.toISOString()).toBe('2027-01-01T00:00:00.000Z');
  });

  test('does not wait for a pipe that has taken the place of the file', () => {
    const path = join(scratch.path, 'pipe');
    expect(spawnSync('mkfifo', [path]).status).toBe(0);
    expect(() => openForReading(path, statOf(path))).toThrow('no longer a regular file');
  });

  test('tells a system error without the path', () => {
    const path = join(scratch.path, 'loop');
    symlinkSync('loop', path);
    let told = '';
    try {
      openForReading(path, statOf(path));
    } catch (thrown) {
      told = inWords(thrown);
    }
    expect(told).toMatch(/^[a-z ]+ \(ELOOP\)$/);
  });
});

test('says what changed between two looks', () => {
  const path = fileOf('changing', Buffer.from('one'));
  const before = statOf(path);
  const fd = openSync(path, 'r');
  expect(whatChanged(before, openStat(fd, before))).toBeNull();
  writeFileSync(path, 'three');
  expect(whatChanged(before, openStat(fd, before))).toBe('its size went from 3 to 5 bytes');
  closeSync(fd);
  expect(whatChanged(before, { ...before, mtimeNs: before.mtimeNs + 1n })).toBe('it was written to');
  expect(whatChanged(before, { ...before, ino: before.ino + 1n })).toContain('another file');
  expect(whatChanged(before, { ...before, ctimeNs: before.ctimeNs + 1n })).toContain('name, owner or permissions');
});
