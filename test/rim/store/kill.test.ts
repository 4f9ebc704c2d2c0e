import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { DatabaseSync } from 'node:sqlite';
import { expect, test } from 'vitest';
import { runs } from '../../effort.ts';
import { faultOf, stateFolders, storedAndRecounted } from './state-folder.ts';

const { folder, open, cleanup } = stateFolders();
const ROUNDS = runs(10);

/** Runs the writer until it has acknowledged `least` batches, kills it some ms later, and returns what it acknowledged. */
async function killedWriter(stateDir: string, round: number, least: number, delayMs: number): Promise<string[]> {
  const script = new URL('./kill-writer.ts', import.meta.url).pathname;
  const child = spawn(process.execPath, [script, stateDir, String(round)], { stdio: ['ignore', 'pipe', 'inherit'] });
  cleanup(() => void child.kill('SIGKILL'));
  const acknowledged: string[] = [];
  const ended = new Promise<NodeJS.Signals | null>((resolve) => child.once('close', (_, signal) => resolve(signal)));
  createInterface({ input: child.stdout }).on('line', (line) => {
    acknowledged.push(line);
    if (acknowledged.length === least) setTimeout(() => child.kill('SIGKILL'), delayMs);
  });
  expect(await ended).toBe('SIGKILL');
  return acknowledged;
}

test(`kill -9 at random moments, ${ROUNDS} rounds: whole, nothing acknowledged is missing, sums as counted again`, async () => {
  const stateDir = folder();
  const acknowledged: string[] = [];
  for (let round = 0; round < ROUNDS; round += 1) {
    const delayMs = Math.random() * 40;
    acknowledged.push(...(await killedWriter(stateDir, round, 3 + round, delayMs)));
    expect(existsSync(join(stateDir, 'lock.pid'))).toBe(true);
    const store = await open(stateDir);
    expect(store.notices.map((notice) => notice.code)).toEqual(['unclean-stop']);
    const where = `round ${round}, killed after ${delayMs} ms`;
    const files = acknowledged.filter((line) => line.startsWith('file '));
    const known = new Set((await store.catalogue.clips({})).map((clip) => `clip ${clip.unit}`));
    for (const line of files) {
      const unit = line.slice('file '.length);
      expect(await store.catalogue.filesOfUnits('stripe', [unit]), `${where}: ${unit}`).toHaveLength(20);
    }
    expect(
      acknowledged.filter((line) => line.startsWith('clip ') && !known.has(line)),
      where,
    ).toEqual([]);
    const ledger = acknowledged.filter((line) => line.startsWith('ledger ')).at(-1);
    const [advisory] = await store.ledger.advisories();
    // The last acknowledged one, or a later one that was stored and not yet acknowledged.
    expect(Number(advisory?.json)).toBeGreaterThanOrEqual(Number(ledger?.slice('ledger '.length)));
    await store.close();
    for (const name of ['catalogue.db', 'ledger.db']) {
      const database = new DatabaseSync(join(stateDir, name));
      expect(database.prepare('PRAGMA integrity_check').get()).toEqual({ integrity_check: 'ok' });
      database.close();
    }
    const { stored, recounted } = storedAndRecounted(join(stateDir, 'catalogue.db'));
    expect(stored, where).toEqual(recounted);
  }
  expect(acknowledged.length).toBeGreaterThan(50);
}, 60_000);

test('the lock of a killed process is free at once', async () => {
  const stateDir = folder();
  const blocker = await open(stateDir);
  expect(await faultOf(open(stateDir))).toMatchObject({ code: 'state-locked' });
  await blocker.close();
  await killedWriter(stateDir, 0, 1, 0);
  expect((await open(stateDir)).notices.map((notice) => notice.code)).toEqual(['unclean-stop']);
});
