import * as nodeFs from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { eachFolder } from '../../../src/rim/watch/each-folder.ts';
import type { ChildEvent } from '../../../src/rim/watch/packing.ts';
import { PART, type TreeFs } from '../../../src/rim/watch/read-folder.ts';
import { ALL_STAMPS } from '../../../src/rim/watch/stamps.ts';
import { Survey, type SurveyOptions } from '../../../src/rim/watch/survey.ts';
import { temporaryFolder } from './watched.ts';

let base: string;
let events: ChildEvent[];

beforeEach(() => {
  base = temporaryFolder();
  events = [];
  for (const path of ['a/b', 'c']) nodeFs.mkdirSync(join(base, path), { recursive: true });
  for (const path of ['a/1.mov', 'a/b/2.mov', 'c/3.mov']) nodeFs.writeFileSync(join(base, path), 'x');
});
afterEach(() => nodeFs.rmSync(base, { recursive: true }));

function survey(fs: TreeFs = nodeFs, over: Partial<SurveyOptions> = {}): Survey {
  const device = nodeFs.statSync(base, { bigint: true }).dev;
  return new Survey({
    place: { fs, base, device, skip: () => false, stamps: ALL_STAMPS },
    watch: { watch: () => undefined, unwatch: () => {} },
    digests: false,
    trustEvents: () => true,
    emit: (event) => events.push(event),
    room: () => undefined,
    // Long after everything was made, so that no time is too fresh to be trusted.
    now: () => Date.now() + 60_000,
    rootChanged: () => false,
    ...over,
  });
}

const listings = () => events.filter((event) => event.type === 'listing');
const dirs = () => listings().map(({ dir }) => dir);
const turn = () => new Promise((resolve) => setTimeout(resolve, 150));

describe('watching', () => {
  test('each folder is watched before it is read, and what appears right behind the reading is told', async () => {
    const order: string[] = [];
    const told: string[] = [];
    const at = (dir: string) => join(base, dir);
    const each = eachFolder(
      { base, device: 0n, skip: () => false },
      { touched: (path) => void told.push(path), unclear: () => {}, failed: () => {} },
    );
    const fs = {
      ...nodeFs,
      readdirSync: ((path: string, options: never) => {
        order.push(`read ${path}`);
        const names = nodeFs.readdirSync(path, options);
        nodeFs.writeFileSync(join(path, 'late.mov'), 'x');
        return names;
      }) as never,
    };
    const watch = (dir: string): undefined => {
      order.push(`watch ${at(dir)}`);
      void each.watch(dir);
    };
    await survey(fs, { watch: { watch, unwatch: (dir) => each.unwatch(dir) } }).walk();
    expect(dirs().sort()).toEqual(['', 'a', 'a/b', 'c']);
    for (const dir of dirs()) expect(order.indexOf(`watch ${at(dir)}`)).toBe(order.indexOf(`read ${at(dir)}`) - 1);
    await turn();
    expect(told).toEqual(expect.arrayContaining(['late.mov', 'a/late.mov', 'a/b/late.mov', 'c/late.mov']));
    each.close();
  });

  test('what is watched is what is known: folders that go, that are replaced, that are found in their stead', async () => {
    const watched = new Set<string>();
    const watch = { watch: (dir: string) => void watched.add(dir), unwatch: (dir: string) => void watched.delete(dir) };
    const subject = survey(nodeFs, { watch });
    await subject.walk();
    expect([...watched].sort()).toEqual(['', 'a', 'a/b', 'c']);
    nodeFs.renameSync(join(base, 'a'), join(base, 'c/a'));
    nodeFs.mkdirSync(join(base, 'a'));
    subject.pass('distrustful');
    await turn();
    expect([...watched].sort()).toEqual(['', 'a', 'c', 'c/a', 'c/a/b']);
    nodeFs.rmSync(join(base, 'c'), { recursive: true });
    subject.readSoon('c/a/b');
    await turn();
    expect([...watched].sort()).toEqual(['', 'a']);
  });
});

describe('a folder whose time is later than events have told of', () => {
  test('is not read if they tell of it in a moment, and is if they do not', async () => {
    const subject = survey();
    await subject.walk();
    events = [];
    nodeFs.writeFileSync(join(base, 'a/told.mov'), 'x');
    nodeFs.writeFileSync(join(base, 'c/untold.mov'), 'x');
    subject.pass('trusting');
    await turn();
    expect(dirs()).toEqual([]);
    subject.account('a');
    // Goes on being written to: what counts is the time that was in doubt.
    nodeFs.writeFileSync(join(base, 'a/later.mov'), 'x');
    await new Promise((resolve) => setTimeout(resolve, 1200));
    expect(dirs()).toEqual(['c']);
  });
});

describe('a folder of more files than one message takes', () => {
  const many = PART * 2 + 500;
  const parts = () => events.filter((event) => event.type === 'part');

  beforeEach(() => {
    for (let frame = 0; frame < many; frame += 1) nodeFs.writeFileSync(join(base, `c/${frame}.dpx`), '');
  });

  test('comes in parts, the rest with its listing; the loop turns while it is read', async () => {
    let turns = 0;
    let going = true;
    const turn = (): void => {
      turns += 1;
      if (going) setImmediate(turn);
    };
    setImmediate(turn);
    // However fast the disk is, all of it together takes longer than one slice.
    const lstatSync = (given: string, options: never) => {
      for (const until = performance.now() + 0.02; performance.now() < until; );
      return nodeFs.lstatSync(given, options);
    };
    await survey({ ...nodeFs, lstatSync } as unknown as TreeFs).walk();
    going = false;
    const own = parts();
    expect(own.map(({ dir, first, files }) => [dir, first, files.length])).toEqual([
      ['c', true, PART],
      ['c', false, PART],
    ]);
    const rest = listings().find(({ dir }) => dir === 'c')?.files ?? [];
    const paths = new Set([...own.flatMap(({ files }) => files), ...rest].map(({ path }) => path));
    expect(paths.size).toBe(many + 1);
    expect(events.at(-1)).toMatchObject({ type: 'swept', files: many + 3 });
    expect(turns).toBeGreaterThan(2);
  });

  test('its parts wait for the other side, too', async () => {
    const { promise, resolve } = Promise.withResolvers<void>();
    const done = survey(nodeFs, { room: () => (parts().length === 1 ? promise : undefined) }).walk();
    await turn();
    expect(parts()).toHaveLength(1);
    resolve();
    await done;
    expect(parts()).toHaveLength(2);
  });

  test('and is another folder in the end: the parts are taken back, nothing is told of it', async () => {
    const subject = survey(nodeFs, {
      emit: (event) => {
        events.push(event);
        if (event.type !== 'part' || event.files.length === 0 || nodeFs.existsSync(join(base, 'old'))) return;
        nodeFs.renameSync(join(base, 'c'), join(base, 'old'));
        nodeFs.mkdirSync(join(base, 'c'));
      },
    });
    await subject.walk();
    await turn();
    const ofC = [...parts(), ...listings()]
      .filter(({ dir }) => dir === 'c')
      .sort((a, b) => events.indexOf(a) - events.indexOf(b));
    const told = ofC.map((event) => [event.type, event.files.length]);
    expect(told.slice(-2)).toEqual([
      ['part', 0],
      ['listing', 0],
    ]);
  });
});

describe('a walk that tells what changed', () => {
  const polled = (over: Partial<SurveyOptions> = {}) =>
    survey(nodeFs, { digests: true, now: () => Date.now(), ...over });

  test('nothing, when nothing did; a rewrite that left the folder as it was; a rename', async () => {
    const subject = polled();
    await subject.walk();
    events = [];
    await subject.walk('changed');
    expect(events.map(({ type }) => type)).toEqual(['swept']);
    expect(events[0]).toMatchObject({ folders: 4, files: 3 });
    nodeFs.appendFileSync(join(base, 'a/b/2.mov'), 'more');
    await subject.walk('changed');
    expect(dirs()).toEqual(['a/b']);
    events = [];
    nodeFs.renameSync(join(base, 'c/3.mov'), join(base, 'c/4.mov'));
    nodeFs.mkdirSync(join(base, 'c/d'));
    await subject.walk('changed');
    expect(dirs().sort()).toEqual(['c', 'c/d']);
    events = [];
    await subject.walk();
    expect(dirs()).toHaveLength(5);
  });

  test('begins with the folders that changed lately, and comes by each folder once', async () => {
    for (const dir of ['', 'a', 'a/b', 'c']) nodeFs.utimesSync(join(base, dir), 1_600_000_000, 1_600_000_000);
    const read: string[] = [];
    const fs = {
      ...nodeFs,
      readdirSync: ((path: string, options: never) => {
        read.push(path.slice(base.length + 1));
        return nodeFs.readdirSync(path, options);
      }) as never,
    };
    const device = nodeFs.statSync(base, { bigint: true }).dev;
    const subject = polled({ place: { fs, base, device, skip: () => false, stamps: ALL_STAMPS } });
    await subject.walk();
    nodeFs.appendFileSync(join(base, 'a/b/2.mov'), 'more');
    await subject.walk('changed');
    nodeFs.utimesSync(join(base, 'c/3.mov'), 1, 1);
    await subject.walk('changed');
    read.length = 0;
    await subject.walk('changed');
    expect(read.slice(0, 2)).toEqual(['c', 'a/b']);
    expect(read.sort()).toEqual(['', 'a', 'a/b', 'c']);
    read.length = 0;
    subject.pass('lately');
    await turn();
    expect(read).toEqual(['c', 'a/b']);
  });
});
