import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { checkTree, recordTree } from '../../../src/rim/manifest/tree-histories.ts';
import { inShort, lay, manifests, operation, validate, walk } from './trees.ts';
import { at } from './written.ts';

/** A process that lists a tree is ended at each of its calls that change the disk, one after the other, and we go on. */
const script = new URL('./record-once.ts', import.meta.url).pathname;
const CARD = { 'Clips/A.mov': 'take a', 'Notes.txt': 'sunny' };

/** Calls by any of their names on this machine. */
const CALLS = {
  mkdir: '?mkdir,?mkdirat',
  fsync: 'fsync',
  link: '?link,?linkat',
  unlink: '?unlink,?unlinkat',
  rename: '?rename,?renameat,?renameat2',
};

const tried = spawnSync('strace', ['-f', '-o', '/dev/null', 'true'], { encoding: 'utf8' });
const whyNot = tried.status === 0 ? null : (tried.error?.message ?? tried.stderr.trim());
if (whyNot !== null)
  console.warn(`NOT CHECKED: kills between manifest and chain. Nothing can be traced here: ${whyNot}`);

/** Runs the script with what strace is to do to its calls. */
function recordOnce(top: string, day: number, ...injected: string[]): { killed: boolean; output: string } {
  const inject = injected.flatMap((one) => ['-e', `inject=${one}`]);
  const args = ['-f', '-o', '/dev/null', ...inject, process.execPath, script, top, String(day)];
  const done = spawnSync('strace', args, { encoding: 'utf8' });
  if (done.signal === 'SIGKILL' || done.status === 137) return { killed: true, output: '' };
  if (done.status !== 0) throw new Error(`${done.status} ${done.signal}: ${done.stderr}`);
  return { killed: false, output: done.stdout };
}

/** Whatever was killed: it can be read, goes on in the next number, without anything left half written. */
function goesOn(top: string, day: number, where: string): string {
  const [seen] = checkTree(walk(top), operation(day));
  expect(seen?.ok, `${where}: ${JSON.stringify(seen)}`).toBe(true);
  const told = inShort(recordTree(walk(top), operation(day)))[''] ?? '';
  expect(told, where).toMatch(/^generation \d/);
  validate(top);
  const numbers = manifests(top).map((name) => Number(name.slice(0, 4)));
  expect(numbers, where).toEqual(numbers.map((_, index) => index + 1));
  expect(readdirSync(join(top, 'ascmhl')).sort(), where).toEqual([...manifests(top), 'ascmhl_chain.xml']);
  expect(inShort(checkTree(walk(top), operation(day))), where).toEqual({ '': 'nothing written, 2 intact' });
  return told;
}

describe.skipIf(whyNot !== null)('kill -9 at every call that changes the disk', () => {
  test.each([
    ['the first generation', 0],
    ['the second', 1],
  ])('of %s', (_, before) => {
    const told: string[] = [];
    for (const [call, names] of Object.entries(CALLS)) {
      for (let when = 1; ; when += 1) {
        const where = `generation ${before + 1}, ${call} ${when}`;
        const top = lay(at(`kill-${before}-${call}-${when}/Saltmarsh`), CARD);
        for (let day = 0; day < before; day += 1) recordTree(walk(top), operation(day));
        const { killed } = recordOnce(top, before, `${names}:signal=SIGKILL:when=${when}`);
        if (!killed) break;
        told.push(`${call} ${when}: ${goesOn(top, before + 1, where)}`);
      }
    }
    // The manifest that stands joins the chain; the next one has the number after it.
    expect(told.filter((one) => one.endsWith('repaired')).length).toBeGreaterThanOrEqual(4);
    expect(told).toContain(`rename 1: generation ${before + 2}, 2 intact, repaired`);
    expect(told).toContain(`link 1: generation ${before + 1}, ${before === 0 ? '2 new' : '2 intact'}`);
    expect(told.length).toBeGreaterThanOrEqual(8);
  });

  test('where a file system has no links: the name is taken, and freed when nothing came of it', () => {
    const noLinks = `${CALLS.link}:error=EPERM`;
    const whole = lay(at('no-links/Saltmarsh'), CARD);
    expect(recordOnce(whole, 0, noLinks).output).toContain('generation 1, 2 new');
    validate(whole);
    expect(inShort(checkTree(walk(whole), operation(1)))).toEqual({ '': 'nothing written, 2 intact' });

    const top = lay(at('no-links-killed/Saltmarsh'), CARD);
    expect(recordOnce(top, 0, noLinks, `${CALLS.rename}:signal=SIGKILL:when=1`).killed).toBe(true);
    expect(manifests(top)).toHaveLength(1);
    expect(readFileSync(join(top, 'ascmhl', manifests(top)[0] ?? ''))).toHaveLength(0);
    expect(goesOn(top, 1, 'name taken')).toBe('generation 1, 2 new, repaired');
  });

  test.each(['ENOSPC', 'EIO'])('%s at each call is told, and nothing stands that is not whole', (error) => {
    for (const [call, names] of Object.entries(CALLS)) {
      const top = lay(at(`fault-${error}-${call}/Saltmarsh`), CARD);
      const { output } = recordOnce(top, 0, `${names}:error=${error}:when=1`);
      const where = `${error} at ${call}`;
      expect(output, where).toMatch(/unwritable ascmhl/);
      goesOn(top, 1, where);
    }
  });
});
