import { type ChildProcess, fork } from 'node:child_process';
import { chmodSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { CommandExit, CommandLines } from '../../../src/core/backup/command-port.ts';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import { createCommandPort } from '../../../src/rim/command/command-port.ts';

const COPIER = fileURLToPath(new URL('../../fixtures/commands/copier.mjs', import.meta.url));
const RUNNER = fileURLToPath(new URL('./run-once.ts', import.meta.url));

let folder: string;
let lines: string[];
let tooLong: number;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-command-'));
  lines = [];
  tooLong = 0;
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

async function* some(...paths: string[]) {
  yield* paths;
}

async function run(
  argv: string[],
  { signal = new AbortController().signal, most = Number.POSITIVE_INFINITY } = {},
): Promise<CommandExit> {
  return createCommandPort(folder, 200).run(
    { name: 'tape', argv },
    async ({ lines: said, tooLong: long }: CommandLines) => {
      lines.push(...said.map((line) => Buffer.from(line).toString('utf8')));
      tooLong += long;
      return lines.length <= most;
    },
    signal,
  );
}

async function copier(how: string, rest: string[] = [], over: Parameters<typeof run>[1] = {}): Promise<CommandExit> {
  const list = await createCommandPort(folder).writeList('tape', some('a.mov', 'b.mov'));
  return run([process.execPath, COPIER, how, list, '/nowhere', ...rest], over);
}

/** Of those that were noted, by /proc. */
const alive = (pids: readonly string[]) =>
  pids.filter((pid) => existsSync(`/proc/${pid}`) && !/\) [ZX] /.test(readFileSync(`/proc/${pid}/stat`, 'latin1')));
const pidsAt = (path: string) => readFileSync(path, 'utf8').trim().split('\n');

async function until(holds: () => boolean): Promise<void> {
  for (let waited = 0; !holds(); waited += 10) {
    if (waited > 30_000) throw new Error('not within 30 s');
    await sleep(10);
  }
}

test('it gets its arguments without a shell, the list byte by byte, little environment, and nothing to read', async () => {
  const name = fromBytes(Uint8Array.of(0x41, 0xff, 0x0a, 0x22));
  const port = createCommandPort(folder);
  const list = await port.writeList('tape 4 / "$HOME"', some(name, 'Día 1/a.mov'));
  expect(readFileSync(list)).toEqual(Buffer.from('A\xff\n"\0D\xc3\xada 1/a.mov\0', 'latin1'));
  const shown = join(folder, 'shown');
  expect(await run([process.execPath, COPIER, 'shows', list, '$HOME; `id`', shown])).toMatchObject({ code: 0 });
  const seen = JSON.parse(readFileSync(shown, 'utf8'));
  expect(seen).toMatchObject({ argv: ['shows', list, '$HOME; `id`', shown], cwd: '/', stdin: 0 });
  expect(Object.keys(seen.env).toSorted()).toEqual(['HOME', 'LANG', 'PATH']);
  // The note of its group goes with it.
  expect(readdirSync(folder).filter((file) => file.endsWith('.group'))).toEqual([]);
});

test('what it says comes line by line, the last one too; a line without end is left out', async () => {
  expect(await copier('junk')).toMatchObject({ is: 'exited', code: 0 });
  expect(tooLong).toBe(1);
  expect(lines[0]).toBe('to tape 4 ...');
  expect(lines.at(-1)).toBe('and that is all');
  expect(lines.filter((line) => line.includes('"copied"'))).toHaveLength(5);
});

test('each end is told apart', async () => {
  expect(await copier('silent')).toMatchObject({ is: 'exited', code: 0 });
  expect(await copier('fails')).toEqual({ is: 'exited', code: 3, errorText: 'no tape in the drive' });
  expect(await copier('dies')).toMatchObject({ is: 'killed', signal: 'SIGKILL' });
  expect(await run(['/nowhere/to-tape'])).toMatchObject({ is: 'not-started', code: 'ENOENT' });
  const script = join(folder, 'script');
  writeFileSync(script, '#!/bin/sh\nexit 0\n');
  chmodSync(script, 0o644);
  expect(await run([script])).toMatchObject({ is: 'not-started', code: 'EACCES' });
  writeFileSync(script, '#!/nowhere/sh\nexit 0\n');
  chmodSync(script, 0o755);
  expect(await run([script])).toMatchObject({ is: 'not-started', code: 'ENOENT' });
});

test('one that floods is ended, and waits meanwhile instead of filling memory', async () => {
  const before = process.memoryUsage().rss;
  expect(await copier('floods', [], { most: 20_000 })).toMatchObject({ is: 'flooded' });
  expect(lines.length).toBeLessThan(60_000);
  expect(process.memoryUsage().rss - before).toBeLessThan(200_000_000);
});

test('when it is told to end, all that it started ends, even what does not want to', async () => {
  const stop = new AbortController();
  const target = join(folder, 'target');
  const running = copier('hangs', [target], { signal: stop.signal });
  await until(() => existsSync(`${target}.pids`) && pidsAt(`${target}.pids`).length === 2);
  const pids = pidsAt(`${target}.pids`);
  expect(alive(pids)).toEqual(pids);
  stop.abort();
  expect(await running).toMatchObject({ is: 'ended' });
  expect(alive(pids)).toEqual([]);
});

test.each([
  ['whoever runs it', false],
  ['whoever runs it and whatever watches it', true],
])('killed with SIGKILL: %s; nothing outlives it, or the next run ends it first', async (_, both) => {
  const target = join(folder, 'target');
  const list = await createCommandPort(folder).writeList('tape', some('a.mov'));
  const argv = [process.execPath, COPIER, 'hangs', list, '/nowhere', target];
  const runner = fork(RUNNER, [folder, JSON.stringify(argv)], { execArgv: [], stdio: 'ignore' });
  await until(() => existsSync(`${target}.pids`) && pidsAt(`${target}.pids`).length === 2);
  const pids = pidsAt(`${target}.pids`);
  if (both) for (const watcher of childrenOf(runner)) process.kill(watcher, 'SIGKILL');
  runner.kill('SIGKILL');
  if (both) {
    await sleep(300);
    expect(alive(pids)).toEqual(pids);
    expect(await copier('silent')).toMatchObject({ is: 'exited' });
  }
  await until(() => alive(pids).length === 0);
});

function childrenOf({ pid }: ChildProcess): number[] {
  const text = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8');
  return text.trim().split(' ').map(Number);
}
