import {
  appendFileSync,
  closeSync,
  existsSync,
  linkSync,
  mkdirSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  symlinkSync,
  unlinkSync,
  utimesSync,
  writeFileSync,
  writeSync,
} from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { fromBytes } from '../../../src/core/intake/path-text.ts';
import type { RemoteRootOptions } from '../../../src/rim/watch/remote-root.ts';
import { kernelWatches } from './kernel-watches.ts';
import { temporaryFolder, type Watched, watched } from './watched.ts';

interface Ground extends Watched {
  at(path: string): string;
}

/** A test on a root of its own; they wait more than they work, so several run at a time. */
function onRoot(name: string, body: (ground: Ground) => Promise<void>, over: Partial<RemoteRootOptions> = {}): void {
  test.concurrent(name, { timeout: 40_000 }, async () => {
    const ground = await watched(over);
    try {
      await body({ ...ground, at: (path) => join(ground.folder, path) });
    } finally {
      await ground.end();
    }
  });
}

const inBytes = (folder: string, ...rest: number[]) => Buffer.concat([Buffer.from(`${folder}/`), Buffer.from(rest)]);
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

describe('what happens is told', () => {
  onRoot('a file written, appended to, renamed and removed', async (w) => {
    writeFileSync(w.at('a.mov'), 'x');
    await w.picture.until('created', () => w.picture.files.get('a.mov')?.size === 1, 2000);
    appendFileSync(w.at('a.mov'), 'yz');
    await w.picture.until('grown', () => w.picture.files.get('a.mov')?.size === 3, 2000);
    renameSync(w.at('a.mov'), w.at('b.mov'));
    await w.picture.until('renamed', () => w.picture.paths().join() === 'b.mov', 2000);
    unlinkSync(w.at('b.mov'));
    await w.picture.until('removed', () => w.picture.files.size === 0, 2000);
    expect(w.picture.count('gone')).toBeGreaterThan(0);
  });

  onRoot('folders made and filled at once, renamed as a whole, removed as a whole', async (w) => {
    mkdirSync(w.at('Saltmarsh/day 1/card'), { recursive: true });
    for (let clip = 0; clip < 20; clip += 1) writeFileSync(w.at(`Saltmarsh/day 1/card/${clip}.mov`), 'x');
    await w.picture.until('20 files', () => w.picture.files.size === 20, 3000);
    renameSync(w.at('Saltmarsh/day 1'), w.at('Saltmarsh/day 2'));
    const renamed = () => w.picture.paths().filter((path) => path.startsWith('Saltmarsh/day 2/card/')).length === 20;
    await w.picture.until('renamed', () => renamed() && w.picture.files.size === 20, 3000);
    writeFileSync(w.at('Saltmarsh/day 2/card/late.mov'), 'x');
    await w.picture.until(
      'a file in the renamed folder',
      () => w.picture.files.has('Saltmarsh/day 2/card/late.mov'),
      3000,
    );
    const before = w.picture.events.length;
    rmSync(w.at('Saltmarsh'), { recursive: true });
    await w.picture.until('all removed', () => w.picture.files.size === 0, 3000);
    const gone = w.picture.events.slice(before).flatMap((event) => (event.type === 'gone' ? event.paths : []));
    // A tree that went is told by its topmost folders, not file by file.
    expect(gone.length).toBeLessThan(25);
  });

  onRoot('a folder of 1,000 files moved in from elsewhere', async (w) => {
    const outside = await watched({}, false);
    mkdirSync(join(outside.folder, 'card'));
    for (let clip = 0; clip < 1000; clip += 1) writeFileSync(join(outside.folder, 'card', `${clip}.mov`), 'x');
    renameSync(join(outside.folder, 'card'), w.at('card'));
    await w.picture.until('1,000 files', () => w.picture.files.size === 1000, 5000);
    await outside.end();
  });

  onRoot('names that are no UTF-8, with a newline, or of the range that escapes use', async (w) => {
    mkdirSync(w.at('names'));
    await pause(300);
    writeFileSync(inBytes(w.at('names'), 0x41, 0xff, 0x42), 'x');
    writeFileSync(w.at('names/new\nline.mov'), 'x');
    writeFileSync(w.at('names/\uF7FF.mov'), 'x');
    const expected = [
      fromBytes(Buffer.from([0x41, 0xff, 0x42])),
      'new\nline.mov',
      fromBytes(Buffer.from('\uF7FF.mov')),
    ];
    await w.picture.until('all names', () => expected.every((name) => w.picture.files.has(`names/${name}`)), 3000);
    expect(w.picture.files.size).toBe(3);
  });

  onRoot('a folder whose name is no UTF-8, and what is in the folders below it', async (w) => {
    const odd = inBytes(w.folder, 0x44, 0xff);
    mkdirSync(odd);
    mkdirSync(Buffer.concat([odd, Buffer.from('/card')]));
    const path = `${fromBytes(Buffer.from([0x44, 0xff]))}/card`;
    const listed = () => w.picture.events.some((event) => event.type === 'listing' && event.dir === path);
    await w.picture.until('the folder', listed, 3000);
    writeFileSync(Buffer.concat([odd, Buffer.from('/card/q.mov')]), 'x');
    await w.picture.until('the file in it', () => w.picture.files.has(`${path}/q.mov`), 2000);
    expect(w.picture.events.at(-1)?.type).toBe('files');
  });

  onRoot('the kernel holds as many watches as there are folders, and none for those that are gone', async (w) => {
    const held = () => kernelWatches(w.root.pid ?? 0);
    const settled = async (count: number): Promise<void> => {
      for (const end = performance.now() + 4000; held() !== count && performance.now() < end; ) await pause(50);
      expect(held()).toBe(count);
    };
    for (const dir of ['a/1/x', 'a/2/y', 'b']) mkdirSync(w.at(dir), { recursive: true });
    await settled(7);
    renameSync(w.at('a'), w.at('b/a'));
    await settled(7);
    writeFileSync(w.at('b/a/1/x/clip.mov'), 'x');
    await w.picture.until('the clip', () => w.picture.paths().join() === 'b/a/1/x/clip.mov', 2000);
    rmSync(w.at('b/a/1'), { recursive: true });
    mkdirSync(w.at('b/a/1'));
    await settled(6);
    writeFileSync(w.at('b/a/1/again.mov'), 'x');
    await w.picture.until('the other clip', () => w.picture.paths().join() === 'b/a/1/again.mov', 2000);
    await w.root.sweep();
    await settled(6);
    const outside = temporaryFolder();
    renameSync(w.at('b/a'), join(outside, 'a'));
    await settled(2);
    await w.picture.until('all gone', () => w.picture.files.size === 0, 2000);
    rmSync(outside, { recursive: true });
  });

  onRoot('links are not followed, system names not told, pipes no files; trash is walked', async (w) => {
    mkdirSync(w.at('.Trash-1000/files'), { recursive: true });
    mkdirSync(w.at('System Volume Information'));
    writeFileSync(w.at('System Volume Information/x'), 'x');
    writeFileSync(w.at('.Trash-1000/files/old.mov'), 'x');
    writeFileSync(w.at('._a.mov'), 'x');
    symlinkSync('/etc', w.at('etc'));
    symlinkSync('/etc/hostname', w.at('host.mov'));
    writeFileSync(w.at('a.mov'), 'x');
    await w.picture.until('a.mov', () => w.picture.files.has('a.mov'), 3000);
    await w.root.sweep();
    expect(w.picture.paths()).toEqual(['.Trash-1000/files/old.mov', 'a.mov']);
  });

  onRoot('one file written without pause is told at most ten times a second', async (w) => {
    const fd = openSync(w.at('a.mov'), 'w');
    const end = performance.now() + 1000;
    while (performance.now() < end) {
      writeSync(fd, 'frame');
      await pause(1);
    }
    closeSync(fd);
    await pause(300);
    const told = w.picture.events.filter((event) => event.type === 'files').length;
    expect(told).toBeGreaterThan(3);
    expect(told).toBeLessThan(16);
    expect(w.picture.files.get('a.mov')?.size).toBeGreaterThan(0);
  });
});

describe('what events miss', () => {
  onRoot('5,000 files in 50 nested new folders, in a burst: none is lost', async (w) => {
    for (let dir = 0; dir < 50; dir += 1) {
      const path = w.at(`burst/${dir % 7}/${dir}/card`);
      mkdirSync(path, { recursive: true });
      for (let clip = 0; clip < 100; clip += 1) writeFileSync(join(path, `${clip}.mov`), 'x');
    }
    await w.picture.until('5,000 files', () => w.picture.files.size === 5000, 12_000);
  });

  onRoot('18,000 names while the process stands still and the queue runs over (16,384 events)', async (w) => {
    for (let dir = 0; dir < 20; dir += 1) mkdirSync(w.at(`card ${dir}`));
    writeFileSync(w.at('clip.mov'), 'x');
    await pause(800);
    const { pid } = w.root;
    process.kill(pid ?? 0, 'SIGSTOP');
    for (let dir = 0; dir < 20; dir += 1) {
      for (let clip = 0; clip < 900; clip += 1) linkSync(w.at('clip.mov'), w.at(`card ${dir}/${clip}.mov`));
    }
    process.kill(pid ?? 0, 'SIGCONT');
    await w.picture.until('18,001 names', () => w.picture.files.size === 18_001, 8000);
    expect(w.root.pid).toBe(pid);
  });

  onRoot('sweep reads every folder again, and is through when it says so', async (w) => {
    mkdirSync(w.at('a/b'), { recursive: true });
    writeFileSync(w.at('a/b/x.mov'), 'x');
    await w.picture.until('x.mov', () => w.picture.files.has('a/b/x.mov'), 3000);
    const before = w.picture.events.length;
    await w.root.sweep();
    const since = w.picture.events.slice(before).flatMap((event) => (event.type === 'listing' ? [event.dir] : []));
    expect(since).toEqual(expect.arrayContaining(['', 'a', 'a/b']));
    expect(w.picture.events.findLast((event) => event.type === 'swept')).toMatchObject({ folders: 3, files: 1 });
  });

  onRoot(
    'a full walk by itself finds a rewrite that left size and time as they were',
    async (w) => {
      const swept = w.picture.count('swept');
      await w.picture.until('two more walks', () => w.picture.count('swept') >= swept + 2, 20_000);
    },
    { settings: { sweepEvery: 60, fullSweepEvery: 1 } },
  );
});

onRoot('how soon a closed file is told (reported, with a generous bound)', async (w) => {
  const waits: number[] = [];
  for (let clip = 0; clip < 30; clip += 1) {
    writeFileSync(w.at(`${clip}.mov`), 'x');
    const closed = performance.now();
    await w.picture.until('told', () => w.picture.files.has(`${clip}.mov`), 3000);
    waits.push((w.picture.seenAt.get(`${clip}.mov`) ?? 0) - closed);
    await pause(30 + (clip % 7) * 20);
  }
  waits.sort((a, b) => a - b);
  console.info(`close to event: median ${waits[15]?.toFixed(0)} ms, worst of 30 ${waits[29]?.toFixed(0)} ms`);
  expect(waits[15]).toBeLessThan(500);
});

onRoot('footage is never touched', async (w) => {
  writeFileSync(w.at('a.mov'), 'untouched');
  const long = new Date('2021-01-01T00:00:00Z');
  utimesSync(w.at('a.mov'), long, long);
  await w.root.sweep();
  await w.root.inspect(['a.mov']);
  expect(readdirSync(w.folder)).toEqual(['a.mov']);
  expect(existsSync(w.at('a.mov'))).toBe(true);
  expect(w.picture.files.get('a.mov')?.mtimeNs).toBe(BigInt(long.getTime()) * 1_000_000n);
});
