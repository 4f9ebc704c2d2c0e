import { spawn } from 'node:child_process';
import * as nodeFs from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { inspect } from '../../../src/rim/watch/inspect.ts';
import { OpenFiles } from '../../../src/rim/watch/open-files.ts';
import { inSlices } from '../../../src/rim/watch/slices.ts';
import type { ProcFs } from '../../../src/rim/watch/writers.ts';

const fs = nodeFs as unknown as ProcFs & typeof nodeFs;
let base: string;
let told: string[];
let known: OpenFiles;
/** A process of its own that opens, writes and closes as it is told. */
let writer: ReturnType<typeof startWriter>;

const WRITER = `
const fs = require('node:fs');
const open = {};
const DO = {
  open: (name, flags) => { open[name] = fs.openSync(name, flags); },
  write: (name) => fs.writeSync(open[name], 'more'),
  close: (name) => fs.closeSync(open[name]),
  instead: (name, next, flags) => { fs.closeSync(open[name]); open[next] = fs.openSync(next, flags); },
};
require('node:readline').createInterface({ input: process.stdin }).on('line', (line) => {
  for (const [what, ...rest] of JSON.parse(line)) DO[what](...rest);
  process.stdout.write('done\\n');
});
`;

function startWriter(folder: string) {
  const child = spawn(process.execPath, ['-e', WRITER], { cwd: folder, stdio: ['pipe', 'pipe', 'inherit'] });
  return {
    does: (...deeds: string[][]) =>
      new Promise<void>((resolve) => {
        child.stdout.once('data', () => resolve());
        child.stdin.write(`${JSON.stringify(deeds)}\n`);
      }),
    end: () =>
      new Promise<void>((resolve) => {
        child.once('exit', () => resolve());
        child.kill();
      }),
  };
}

beforeEach(() => {
  base = nodeFs.mkdtempSync(join(tmpdir(), 'headroomd-open-'));
  told = [];
  known = new OpenFiles({ fs, tell: (path) => void told.push(path) });
  writer = startWriter(base);
});
afterEach(async () => {
  known.clear();
  await writer.end();
  nodeFs.rmSync(base, { recursive: true });
});

/** What a look says of these, and how many processes it searched. */
async function look(...paths: string[]): Promise<{ writers: string[]; searched: number }> {
  let searched = 0;
  const proc: ProcFs = {
    readdirSync: (path) => {
      if (/^\/proc\/\d+\/fd$/.test(path)) searched += 1;
      return fs.readdirSync(path);
    },
    readlinkSync: (path, options) => fs.readlinkSync(path, options) as Buffer,
    readFileSync: (path, encoding) => fs.readFileSync(path, encoding),
    statSync: (path, options) => fs.statSync(path, options),
  };
  const { dev: device } = nodeFs.statSync(base, { bigint: true });
  const me = { uid: process.geteuid?.() ?? 0, pid: process.pid };
  const evidence = await inSlices(
    inspect(paths, { fs: nodeFs, proc, base, device, remote: false, ...me, openFiles: known }),
  );
  return { writers: evidence.map(({ writers }) => writers), searched };
}

describe('a writer that was found', () => {
  test('is not searched for again while it stands; its close is told within a quarter of a second', async () => {
    await writer.does(['open', 'a.mov', 'w'], ['write', 'a.mov']);
    expect((await look('a.mov')).writers).toEqual(['open']);
    await pause(500);
    expect(await look('a.mov')).toEqual({ writers: ['open'], searched: 0 });
    expect(told).toEqual([]);
    await writer.does(['close', 'a.mov']);
    // 200 ms between looks; as much again for a machine that is busy.
    await pause(400);
    expect(told).toEqual(['a.mov']);
    expect(await look('a.mov')).toMatchObject({ writers: ['none'], searched: expect.toSatisfy((n) => n > 0) });
  });

  test.each([
    ['opens the next file under the same number', 'b.mov', 'w'],
    ['reads the same file under the same number', 'a.mov', 'r'],
  ])('%s: the close is told', async (_, next, flags) => {
    await writer.does(['open', 'a.mov', 'w'], ['write', 'a.mov']);
    await look('a.mov');
    await writer.does(['instead', 'a.mov', next, flags]);
    await pause(400);
    expect(told).toEqual(['a.mov']);
    expect((await look('a.mov')).writers).toEqual(['none']);
  });

  test('that ends', async () => {
    await writer.does(['open', 'a.mov', 'w']);
    await look('a.mov');
    await writer.end();
    await pause(400);
    expect(told).toEqual(['a.mov']);
    writer = startWriter(base);
  });

  test('has another file open than the one of that name now', async () => {
    await writer.does(['open', 'a.mov', 'w']);
    await look('a.mov');
    nodeFs.rmSync(join(base, 'a.mov'));
    nodeFs.writeFileSync(join(base, 'a.mov'), 'another');
    expect((await look('a.mov')).writers).toEqual(['none']);
  });
});

test('growth: of one or two files told as it comes, of many in turns, ten a second', async () => {
  const names = Array.from({ length: 40 }, (_, number) => `${number}.mov`);
  await writer.does(...names.map((name) => ['open', name, 'w']));
  const began = performance.now();
  await look('0.mov', '1.mov');
  expect([known.defers('0.mov'), known.defers('none.mov')]).toEqual([false, false]);
  await look(...names);
  for (const name of names) expect(known.defers(name)).toBe(true);
  const turn = names.length / 10;
  await pause(3000);
  expect(told).toEqual([]);
  // On a loaded machine looks are made less often and less is told: it is waited for. More is never told: ten at once, once a second,
  // the first ten as soon as their turn has come.
  await vi.waitFor(() => expect(told.length).toBeGreaterThan(10), { timeout: 20_000, interval: 50 });
  expect(told.length).toBeLessThanOrEqual(10 * ((performance.now() - began) / 1000 - turn) + 10);
  expect(new Set(told).size).toBe(told.length);
  // What was closed is told at once, whatever else waits.
  told.length = 0;
  await writer.does(['close', '39.mov']);
  await pause(700);
  expect(told).toContain('39.mov');
});
