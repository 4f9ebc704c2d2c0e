import { cpSync, linkSync, mkdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { type Bench, bench, media, until } from './headroomd.ts';

/** What is said stays true when files are not clips yet, stop being clips, or have a bad neighbour. */
let place: Bench;
let footage: string;

beforeEach(() => {
  place = bench();
  footage = join(place.volume, 'Saltmarsh', 'Footage');
  mkdirSync(footage, { recursive: true });
});
afterEach(() => place.clear());

const good = join(media, 'tidewater-a.mov');
const size = statSync(good).size;

test('footage that is no clip is exposed all the same: stills, and what was refused', async () => {
  writeFileSync(join(footage, 'IMG_0001.CR3'), Buffer.alloc(50_000, 'raw'));
  writeFileSync(join(footage, 'notes.mov'), 'not a clip at all, only words\n'.repeat(20));
  const daemon = await place.start();
  await until('both are known', () => (daemon.status().projects[0]?.bytes ?? 0) === 50_600, 20);
  await until('the volume was read', () => daemon.status().volumes[0]?.safety.exposedBytes === 50_600, 20);
  expect(daemon.status().projects[0]).toMatchObject({ clips: 0, footageBytes: 50_600 });
});

test('a clip whose file becomes something else is a clip no longer, until it is one again', async () => {
  cpSync(good, join(footage, 'A001.mov'));
  const daemon = await place.start();
  await until('it is a clip', () => daemon.clips().length === 1);
  writeFileSync(join(footage, 'A001.mov'), 'this is a text now, and it is long enough to be one\n');
  await until('it is none', () => daemon.clips().length === 0, 15);
  await until('that is told', () => daemon.status().arrivals.some(({ state }) => state === 'refused'), 15);
  cpSync(good, join(footage, 'A001.mov'));
  await until('it is a clip again', () => daemon.clips()[0]?.bytes === size, 15);
});

test('an empty neighbour of the same name is refused by its own name; the good clip is taken', async () => {
  cpSync(good, join(footage, 'A001.mov'));
  writeFileSync(join(footage, 'A001.wav'), '');
  const daemon = await place.start();
  await until('the clip is there', () => daemon.clips().length === 1, 40);
  await until('the empty one is refused', () => daemon.status().arrivals.some(({ state }) => state === 'refused'), 50);
  const refused = daemon.status().arrivals.filter(({ state }) => state === 'refused');
  expect(refused.map(({ path }) => path)).toEqual(['Saltmarsh/Footage/A001.wav']);
  expect(daemon.clips().map(({ name }) => name)).toEqual(['A001.mov']);
  rmSync(join(footage, 'A001.wav'));
  await until('nothing is left to say', () => daemon.status().arrivals.every(({ state }) => state === 'ready'), 15);
});

test('two names of one content take room, and are exposed, once', async () => {
  cpSync(good, join(footage, 'A001.mov'));
  linkSync(join(footage, 'A001.mov'), join(footage, 'copy of A001.mov'));
  const daemon = await place.start();
  await until('both names are known', () => daemon.clips().length === 2);
  await until('the sums follow', () => daemon.status().volumes[0]?.safety.exposedBytes === size, 15);
  expect(daemon.status().projects[0]).toMatchObject({ bytes: size, footageBytes: size });
});

test('a volume that was never seen is not said to be safe', async () => {
  const config = join(place.folder, 'headroomd.toml');
  writeFileSync(config, `[[volume]]\nname = "away"\npath = "${join(place.folder, 'not there')}"\n`);
  const daemon = await place.start(['--config', config]);
  await until('it is unknown', () => daemon.status().volumes[0]?.state === 'unknown');
  expect(daemon.status().volumes[0]?.safety).toMatchObject({ exposedBytes: null, exposedClips: null });
});
