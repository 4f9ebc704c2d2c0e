import * as nodeFs from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { ChildEvent } from '../../../src/rim/watch/packing.ts';
import type { FolderPlace } from '../../../src/rim/watch/read-folder.ts';
import { ALL_STAMPS } from '../../../src/rim/watch/stamps.ts';
import { Survey } from '../../../src/rim/watch/survey.ts';
import { Touched } from '../../../src/rim/watch/touched.ts';
import { Picture, temporaryFolder, watched } from './watched.ts';

let base: string;
let picture: Picture;

/** Small folders: nothing comes in parts here. */
const emit = (event: ChildEvent): void => {
  if (event.type !== 'part') picture.take(event);
};

const around = {
  watch: { watch: () => undefined, unwatch: () => {} },
  digests: false,
  room: () => undefined,
  now: () => Date.now(),
  rootChanged: () => false,
  trustEvents: () => true,
};

beforeEach(() => {
  base = temporaryFolder();
  picture = new Picture();
});
afterEach(() => nodeFs.rmSync(base, { recursive: true }));

async function made(
  over: Partial<FolderPlace['fs']> = {},
  isOpen: (stat: { path: string }) => boolean = () => false,
): Promise<{ touched: Touched; survey: Survey }> {
  const device = nodeFs.statSync(base, { bigint: true }).dev;
  const place: FolderPlace = { fs: { ...nodeFs, ...over }, base, device, skip: () => false, stamps: ALL_STAMPS };
  const survey = new Survey({ ...around, place, emit });
  await survey.walk();
  return {
    survey,
    touched: new Touched({ place, survey, emit, rootChanged: () => false, isOpen, deferred: () => {} }),
  };
}

function tree(): void {
  nodeFs.mkdirSync(join(base, 'P/a/b/c'), { recursive: true });
  for (const name of ['1.mov', '2.mov']) nodeFs.writeFileSync(join(base, 'P/a/b/c', name), 'x');
}

test('a folder that a file took the place of: what was in it is gone, the file is told and stays', async () => {
  tree();
  const { touched } = await made();
  nodeFs.rmSync(join(base, 'P/a/b'), { recursive: true });
  nodeFs.writeFileSync(join(base, 'P/a/b'), 'y');
  for (const path of ['P/a/b/c/1.mov', 'P/a/b/c/2.mov', 'P/a/b']) touched.add(path);
  await pause(60);
  expect(picture.paths()).toEqual(['P/a/b']);
});

test('told gone first, where it was missing for a moment before the file was there', async () => {
  tree();
  let missing = true;
  const lstatSync = ((path: string, options: never) => {
    if (missing && path.startsWith(join(base, 'P/a/b'))) {
      missing = path !== join(base, 'P/a/b');
      throw Object.assign(new Error(`ENOENT: no such file or directory, lstat '${path}'`), { code: 'ENOENT' });
    }
    return nodeFs.lstatSync(path, options);
  }) as typeof nodeFs.lstatSync;
  missing = false;
  const { touched } = await made({ lstatSync });
  nodeFs.rmSync(join(base, 'P/a/b'), { recursive: true });
  nodeFs.writeFileSync(join(base, 'P/a/b'), 'y');
  missing = true;
  for (const path of ['P/a/b/c/1.mov', 'P/a/b']) touched.add(path);
  await pause(60);
  expect(picture.paths()).toEqual(['P/a/b']);
});

test('an error of the drive above a missing file ends the search there, and nothing else', async () => {
  tree();
  let failing = false;
  const lstatSync = ((path: string, options: never) => {
    if (failing && path === join(base, 'P/a/b'))
      throw Object.assign(new Error(`EIO: i/o error, lstat '${path}'`), { code: 'EIO' });
    return nodeFs.lstatSync(path, options);
  }) as typeof nodeFs.lstatSync;
  const { touched } = await made({ lstatSync });
  nodeFs.rmSync(join(base, 'P/a/b/c'), { recursive: true });
  failing = true;
  touched.add('P/a/b/c/1.mov');
  await pause(60);
  expect(picture.events.at(-1)).toEqual({ type: 'gone', paths: ['P/a/b/c'] });
});

test('a look that fails altogether: the folders of what was touched are read instead', async () => {
  tree();
  const { touched } = await made();
  const { take } = picture;
  picture.take = (event) => {
    if (event.type === 'files') throw new Error('broken');
    take.call(picture, event);
  };
  nodeFs.writeFileSync(join(base, 'P/a/late.mov'), 'x');
  touched.add('P/a/late.mov');
  await picture.until('the late file', () => picture.files.has('P/a/late.mov'), 2000);
  expect(picture.count('files')).toBe(0);
});

test('a survey that fails in the middle begins again a little later, and its walk comes to its end', async () => {
  tree();
  let failures = 1;
  const device = nodeFs.statSync(base, { bigint: true }).dev;
  const survey = new Survey({
    ...around,
    place: { fs: nodeFs, base, device, skip: () => false, stamps: ALL_STAMPS },
    emit: (event) => {
      if (event.type === 'listing' && event.dir === 'P/a' && failures-- > 0) throw new Error('broken');
      emit(event);
    },
  });
  await survey.walk();
  expect(picture.paths()).toEqual(['P/a/b/c/1.mov', 'P/a/b/c/2.mov']);
  expect(picture.events.at(-1)).toMatchObject({ type: 'swept', folders: 5, files: 2 });
  survey.close();
});

test('a folder replaced by a file, again and again: the root lives on, under the same process', async () => {
  const w = await watched();
  try {
    const { pid } = w.root;
    for (let round = 0; round < 12; round += 1) {
      nodeFs.mkdirSync(join(w.folder, 'P/a/b/c'), { recursive: true });
      for (let clip = 0; clip < 20; clip += 1) nodeFs.writeFileSync(join(w.folder, `P/a/b/c/${clip}.mov`), 'x');
      await pause(round * 12);
      nodeFs.rmSync(join(w.folder, 'P/a/b'), { recursive: true });
      nodeFs.writeFileSync(join(w.folder, 'P/a/b'), 'y');
      await pause(round * 5);
      if (round < 11) nodeFs.rmSync(join(w.folder, 'P/a/b'));
    }
    await w.picture.until('the file alone', () => w.picture.paths().join() === 'P/a/b', 5000);
    expect([w.root.pid, w.picture.state]).toEqual([pid, 'live']);
  } finally {
    await w.end();
  }
});

test('a name in a folder that is being read is looked at when that is through: it is newer than what is told of it', async () => {
  tree();
  let reading = true;
  const { touched, survey } = await made();
  Object.defineProperty(survey, 'isReading', { value: (dir: string) => reading && dir === 'P/a/b/c' });
  nodeFs.rmSync(join(base, 'P/a/b/c/1.mov'));
  touched.add('P/a/b/c/1.mov');
  nodeFs.writeFileSync(join(base, 'P/a/beside.mov'), 'x');
  touched.add('P/a/beside.mov');
  await picture.until('the one beside', () => picture.files.has('P/a/beside.mov'), 2000);
  await pause(250);
  expect(picture.count('gone')).toBe(0);
  reading = false;
  await picture.until('the other', () => !picture.files.has('P/a/b/c/1.mov'), 2000);
});

test('frames of a sequence are told once a second, all other files as they come', async () => {
  const { touched } = await made();
  const tellings = () => picture.events.filter(({ type }) => type === 'files').length;
  const files = (from: number, to: number, name: (number: number) => string) =>
    Array.from({ length: to - from }, (_, at) => name(from + at));
  const land = async (names: string[]) => {
    for (const name of names) {
      nodeFs.writeFileSync(join(base, name), 'x');
      touched.add(name);
      await pause(40);
    }
  };
  await land(['reel_0001.dpx']);
  expect(picture.paths()).toEqual(['reel_0001.dpx']);
  const before = tellings();
  await land(files(2, 12, (number) => `reel_${String(number).padStart(4, '0')}.dpx`));
  expect(tellings()).toBe(before);
  await land(['a.mov']);
  await pause(120);
  expect(picture.paths()).toEqual(['a.mov', 'reel_0001.dpx']);
  await pause(900);
  expect(picture.paths()).toHaveLength(12);
  expect(tellings()).toBe(before + 2);
});

test('what is open for writing is told as such, apart from the others', async () => {
  tree();
  const { touched } = await made({}, ({ path }) => path.endsWith('1.mov'));
  for (const path of ['P/a/b/c/1.mov', 'P/a/b/c/2.mov']) touched.add(path);
  await pause(60);
  const told = picture.events.filter((event) => event.type === 'files');
  expect(told.map(({ open, files }) => [open ?? false, files.map(({ path }) => path)])).toEqual([
    [false, ['P/a/b/c/2.mov']],
    [true, ['P/a/b/c/1.mov']],
  ]);
});
