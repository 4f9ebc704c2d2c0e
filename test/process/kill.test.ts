import { cpSync, mkdirSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, expect, test } from 'vitest';
import { effort } from '../effort.ts';
import { type Bench, bench, type ClipJson, copySlowly, media, type Running, until } from './headroomd.ts';

/** SIGKILL at arbitrary moments of an ingest, then a new start: the same catalogue as without any kill. */
const benches: Bench[] = [];

afterEach(async () => {
  for (const one of benches.splice(0)) await one.clear();
});

const kills = 5 * effort;

const names = readdirSync(media).filter((name) => statSync(join(media, name)).isFile());

function place(): { bench: Bench; card: string } {
  const made = bench();
  benches.push(made);
  const card = join(made.volume, 'Lock Keepers', 'Footage', 'A001');
  mkdirSync(card, { recursive: true });
  return { bench: made, card };
}

async function copyCard(card: string): Promise<void> {
  for (const name of names) await copySlowly(join(media, name), join(card, name), 3, 60);
}

/** All that the catalogue says, without what may differ from run to run. */
function told(daemon: Running): { clips: Omit<ClipJson, 'recordedAt'>[]; projects: unknown } {
  const clips = daemon.clips().toSorted((a, b) => (a.name < b.name ? -1 : 1));
  const { projects } = daemon.status();
  return { clips, projects };
}

async function complete(daemon: Running): Promise<void> {
  await until('every clip is there', () => {
    if (daemon.clips().length !== names.length) return false;
    return daemon.status().arrivals.every(({ state }) => state === 'ready');
  });
  // The newest clip's sums reach the snapshot with the next pass.
  await sleep(1000);
}

test(`killed ${kills} times during a card, the catalogue is the same as without`, async () => {
  const calm = place();
  const undisturbed = await calm.bench.start();
  await copyCard(calm.card);
  await complete(undisturbed);
  const expected = told(undisturbed);
  await undisturbed.end();

  const rough = place();
  const copying = copyCard(rough.card);
  for (let kill = 0; kill < kills; kill++) {
    const daemon = await rough.bench.start();
    await sleep(200 + ((kill * 310) % 1700));
    await daemon.end('SIGKILL');
  }
  await copying;
  const last = await rough.bench.start();
  await complete(last);
  expect(told(last)).toEqual(expected);
  expect(expected.clips.length).toBe(names.length);
});

test('a start after a clean stop probes nothing that has not changed', async () => {
  const { bench: made, card } = place();
  for (const name of names.slice(0, 4)) cpSync(join(media, name), join(card, name));
  const first = await made.start();
  await until('four clips', () => first.clips().length === 4);
  await first.end();
  const second = await made.start();
  await until('the first sweep is through', () => second.log().includes('"swept"'));
  await sleep(1500);
  expect(second.clips().length).toBe(4);
  expect(second.log()).not.toContain('clip-ready');
});

test('status without a daemon gives the last snapshot, marked as old, and its own exit code', async () => {
  const { bench: made, card } = place();
  cpSync(join(media, 'tidewater-a.mov'), join(card, 'A001.mov'));
  const daemon = await made.start();
  await until('the clip is in the snapshot', () => daemon.status().projects[0]?.clips === 1);
  await daemon.end();
  const plain = made.call('status');
  expect(plain.status).toBe(3);
  expect(plain.stderr).toMatch(/no daemon runs on .*start one with/);
  expect(plain.stdout).toMatch(/^OLD: /m);
  expect(plain.stdout).toContain('Lock Keepers');
  expect(JSON.parse(made.call('status', '--json').stdout).volumes[0]).toMatchObject({ state: 'unknown', stale: true });
  expect(made.call('clips').status).toBe(3);
});
