import * as nodeFs from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { ChildEvent } from '../../../src/rim/watch/packing.ts';
import type { TreeFs } from '../../../src/rim/watch/read-folder.ts';
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

/** `node:fs` that fails on one path. */
function failing(on: 'readdirSync' | 'lstatSync', path: string, code: string): TreeFs {
  const refuse = (given: string): void => {
    if (given === join(base, path)) throw Object.assign(new Error(`${code}: refused, ${on} '${given}'`), { code });
  };
  const readdirSync = (given: string, options: never) => {
    if (on === 'readdirSync') refuse(given);
    return nodeFs.readdirSync(given, options);
  };
  const lstatSync = (given: string, options: never) => {
    if (on === 'lstatSync') refuse(given);
    return nodeFs.lstatSync(given, options);
  };
  return { readdirSync, lstatSync } as unknown as TreeFs;
}

const listings = () => events.filter((event) => event.type === 'listing');
const dirs = () => listings().map(({ dir }) => dir);
const turn = () => new Promise((resolve) => setTimeout(resolve, 150));

describe('a walk', () => {
  test('tells each folder once, with all that is in it', async () => {
    await survey().walk();
    expect(dirs().sort()).toEqual(['', 'a', 'a/b', 'c']);
    const listing = listings().find(({ dir }) => dir === 'a');
    expect(listing).toMatchObject({ files: [{ path: 'a/1.mov', size: 1 }], dirs: ['a/b'], unreadable: [] });
    expect(events.at(-1)).toMatchObject({ type: 'swept', folders: 4, files: 3 });
  });

  test('a folder that may not be read: named in its own listing, the rest goes on, and it is tried again', async () => {
    const subject = survey(failing('readdirSync', 'a', 'EACCES'));
    await subject.walk();
    expect(dirs().sort()).toEqual(['', 'a', 'c']);
    const own = listings().find(({ dir }) => dir === 'a');
    expect(own).toMatchObject({
      files: [],
      dirs: [],
      unreadable: [{ path: 'a', error: 'EACCES: refused, readdirSync' }],
    });
    events = [];
    subject.pass('trusting');
    await turn();
    expect(dirs()).toEqual(['a']);
  });

  test('a file that cannot be looked at: named, its neighbours told', async () => {
    await survey(failing('lstatSync', 'a/1.mov', 'EIO')).walk();
    expect(listings().find(({ dir }) => dir === 'a')).toMatchObject({
      files: [],
      dirs: ['a/b'],
      unreadable: [{ path: 'a/1.mov', error: 'EIO: refused, lstatSync' }],
    });
  });

  test('another file system below: not entered, kept in the listing, said once', async () => {
    const fs = {
      ...nodeFs,
      lstatSync: ((path: string, options: { bigint: true }) => {
        const stat = nodeFs.lstatSync(path, options);
        if (path === join(base, 'a')) stat.dev += 1n;
        return stat;
      }) as typeof nodeFs.lstatSync,
    };
    const subject = survey(fs);
    await subject.walk();
    await subject.walk();
    expect(new Set(dirs())).toEqual(new Set(['', 'c']));
    expect(listings()[0]?.dirs.sort()).toEqual(['a', 'c']);
    const troubles = events.filter((event) => event.type === 'trouble');
    expect(troubles).toEqual([
      expect.objectContaining({ detail: expect.stringContaining('a is another file system') }),
    ]);
  });

  test('waits while the other side is behind', async () => {
    const { promise, resolve } = Promise.withResolvers<void>();
    let asked = 0;
    const room = () => {
      asked += 1;
      return asked === 3 ? promise : undefined;
    };
    const done = survey(nodeFs, { room }).walk();
    await turn();
    expect(events.some((event) => event.type === 'swept')).toBe(false);
    resolve();
    await done;
    expect(events.some((event) => event.type === 'swept')).toBe(true);
  });

  test('a volume that goes in the middle: nothing looks empty, and the walk does not end well', async () => {
    let gone = false;
    const fs = {
      ...nodeFs,
      readdirSync: ((path: string, options: never) => (gone ? [] : nodeFs.readdirSync(path, options))) as never,
    };
    const subject = survey(fs, {
      rootChanged: () => gone,
      emit: (event) => {
        events.push(event);
        gone = true;
      },
    });
    await expect(subject.walk()).rejects.toThrow('not there any more');
    expect(dirs()).toEqual(['']);
  });
});

describe('a pass', () => {
  test('reads what changed, follows new folders, and nothing else', async () => {
    const subject = survey();
    await subject.walk();
    events = [];
    subject.pass('trusting');
    await turn();
    expect(events).toEqual([]);
    nodeFs.mkdirSync(join(base, 'c/d/e'), { recursive: true });
    nodeFs.writeFileSync(join(base, 'c/d/e/4.mov'), 'x');
    subject.pass('distrustful');
    await turn();
    expect(dirs().sort()).toEqual(['c', 'c/d', 'c/d/e']);
  });

  test('trusts what events told, until it is asked not to', async () => {
    const subject = survey();
    await subject.walk();
    events = [];
    nodeFs.writeFileSync(join(base, 'c/5.mov'), 'x');
    subject.account('c');
    subject.pass('trusting');
    await turn();
    expect(events).toEqual([]);
    subject.pass('distrustful');
    await turn();
    expect(dirs()).toEqual(['c']);
  });

  test('a wary one believes events in a large folder that was read lately, and in no other', async () => {
    for (let number = 0; number < 200; number++) nodeFs.writeFileSync(join(base, `c/many-${number}.mov`), 'x');
    let now = Date.now() + 60_000;
    const subject = survey(nodeFs, { now: () => now });
    await subject.walk();
    events = [];
    for (const dir of ['a', 'c']) {
      nodeFs.writeFileSync(join(base, dir, '5.mov'), 'x');
      subject.account(dir);
    }
    now += 1000;
    subject.pass('wary');
    await turn();
    // 200 files: 4 s. Of the few in the other folder: 20 ms each.
    expect(dirs()).toEqual(['a']);
    now += 5000;
    subject.pass('wary');
    await turn();
    expect(dirs().sort()).toEqual(['a', 'c']);
  });

  test('a folder that was replaced by another of the same name is read with all below it', async () => {
    const subject = survey();
    await subject.walk();
    events = [];
    nodeFs.renameSync(join(base, 'a'), join(base, 'old'));
    nodeFs.mkdirSync(join(base, 'a/z'), { recursive: true });
    subject.pass('distrustful');
    await turn();
    expect(dirs().sort()).toEqual(['', 'a', 'a/z', 'old', 'old/b']);
    expect(subject.knows('a/b')).toBe(false);
  });

  test('a root that is not there for one moment, with the same inode after it, is read again', async () => {
    let away = 0;
    const lstatSync = (given: string, options: never) => {
      if (given === base && away > 0) {
        away -= 1;
        throw Object.assign(new Error('ENOENT'), { code: 'ENOENT' });
      }
      return nodeFs.lstatSync(given, options);
    };
    const subject = survey({ ...nodeFs, lstatSync } as unknown as TreeFs);
    await subject.walk();
    events = [];
    away = 1;
    subject.readSoon('');
    await turn();
    expect(dirs().sort()).toEqual(['', 'a', 'a/b', 'c']);
    expect(subject.knows('')).toBe(true);
  });
});
