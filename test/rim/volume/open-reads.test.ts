import { type ChildProcess, spawn } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { mkdtempSync, openSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { OpenReads } from '../../../src/rim/volume/open-reads.ts';

/** Real processes that read real files, as players and copies do. */
let folder: string;
const started: ChildProcess[] = [];

beforeEach(() => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'headroomd-reads-')));
  for (const name of ['a', 'b', 'c', 'd']) writeFileSync(join(folder, name), Buffer.alloc(4_000_000, 7));
});
afterEach(() => {
  for (const child of started.splice(0)) child.kill('SIGKILL');
  rmSync(folder, { recursive: true, force: true });
});

function run(script: string): void {
  started.push(spawn(process.execPath, ['-e', script], { cwd: folder, stdio: 'ignore' }));
}

test('files that are read are seen, with those of another kind of reading; what is merely open or written is not', async () => {
  // One after the other, as a player that goes on; at fixed places, as one that asks for frames.
  run(
    `const fs = require('fs'); const fd = fs.openSync('a'); const b = Buffer.alloc(2000); setInterval(() => fs.readSync(fd, b), 20)`,
  );
  run(
    `const fs = require('fs'); const fd = fs.openSync('b'); const b = Buffer.alloc(400000); setInterval(() => fs.readSync(fd, b, 0, 400000, 0), 20)`,
  );
  run(`const fs = require('fs'); fs.openSync('c'); setInterval(() => {}, 1000)`);
  run(
    `const fs = require('fs'); const fd = fs.openSync('d', 'r+'); const b = Buffer.alloc(2000); setInterval(() => fs.writeSync(fd, b), 20)`,
  );
  // Our own reading is no playback.
  const own = openSync(join(folder, 'c'), 'r');
  nodeFs.readSync(own, Buffer.alloc(1000));
  await sleep(600);
  const reads = new OpenReads(
    nodeFs,
    () => performance.now(),
    () => new Set([String(process.pid)]),
  );
  await reads.look([{ name: 'stripe', path: folder }]);
  await sleep(500);
  const seen = await reads.look([
    { name: 'stripe', path: folder },
    { name: 'other', path: `${folder}x` },
  ]);
  expect([...(seen.get('stripe') ?? [])].sort()).toEqual(['a', 'b']);
  expect([...(seen.get('other') ?? ['nothing'])]).toEqual([]);
  nodeFs.closeSync(own);
});

test('of a program that has very many files open it is not guessed which of them it reads at fixed places', async () => {
  const many = Array.from({ length: 14 }, (_, index) => `clip${index}`);
  for (const name of many) writeFileSync(join(folder, name), Buffer.alloc(1000, 7));
  run(
    `const fs = require('fs'); ${JSON.stringify(many)}.map((name) => fs.openSync(name)); const fd = fs.openSync('b'); const b = Buffer.alloc(400000); setInterval(() => fs.readSync(fd, b, 0, 400000, 0), 20)`,
  );
  run(
    `const fs = require('fs'); const fds = [${JSON.stringify(many)}, 'a'].flat().map((name) => fs.openSync(name)); const b = Buffer.alloc(2000); setInterval(() => fs.readSync(fds.at(-1), b), 20)`,
  );
  await sleep(600);
  const reads = new OpenReads(
    nodeFs,
    () => performance.now(),
    () => new Set(),
  );
  await reads.look([{ name: 'stripe', path: folder }]);
  await sleep(500);
  const seen = await reads.look([{ name: 'stripe', path: folder }]);
  expect([...(seen.get('stripe') ?? [])]).toEqual(['a']);
});

test('a machine without /proc tells nothing, and does not fail', async () => {
  const none = () => {
    throw new Error('ENOENT');
  };
  const reads = new OpenReads(
    { readdirSync: none, readlinkSync: none, readFileSync: none },
    () => 0,
    () => new Set(),
  );
  expect(await reads.look([{ name: 'stripe', path: folder }])).toEqual(new Map([['stripe', new Set()]]));
});
