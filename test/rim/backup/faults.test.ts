import { rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { effort } from '../../effort.ts';
import { type CallPoint, pointsOf, whyNoStrace } from './call-points.ts';
import { copyAll, type Done, expectHonest, footage, injecting, type JobGround, jobGround, onShelf } from './jobs.ts';

const why = whyNoStrace();
if (why !== null)
  console.warn(`NOT CHECKED: calls that fail or lie, and kills at each of them. strace cannot be used here: ${why}`);

const MEBIBYTE = 1_048_576;
const LONG = effort > 1;

let ground: JobGround;
beforeEach(() => {
  ground = jobGround();
  for (const [seed, size] of [3000, 70_000, 8 * MEBIBYTE + 5].entries())
    ground.add(`Saltmarsh/day 1/A001C00${seed}.mov`, footage(size, seed));
});
afterEach(() => ground.remove());

function clear(): void {
  for (const name of ['Saltmarsh']) rmSync(join(ground.shelf, name), { recursive: true, force: true });
  for (const path of onShelf(ground.shelf)) rmSync(join(ground.shelf, path), { force: true });
}

/** Nothing of ours under another name, and no journal. */
function expectTidy(): void {
  const finals = new Set(ground.items.map(({ target }) => target));
  expect(onShelf(ground.shelf).filter((path) => !finals.has(path))).toEqual([]);
}

/** The sources, as strace names them. */
const files = () => ground.items.map(({ source }) => join(ground.volume, source));

const copiedOf = ({ outcomes }: Done) => outcomes.filter(({ is }) => is === 'copied').length;

describe.skipIf(why !== null)('a drive that lies or fails', () => {
  test('a write that says it was done and was not: found when read back, and never given its name', async () => {
    const done = await copyAll(ground, injecting(['pwrite64:retval=4096:when=1']));
    const mismatches = done.outcomes.filter(({ is }) => is === 'mismatch');
    expect(mismatches.length).toBeGreaterThan(0);
    for (const one of mismatches)
      expect(one.is === 'mismatch' && one.trouble).toMatchObject({
        path: ground.items[one.id]?.target,
        message: 'what was read back is not what was written',
      });
    expectHonest(ground, done);
    expectTidy();
    expect(onShelf(ground.shelf)).toHaveLength(ground.items.length - mismatches.length);
  });

  test.each([
    ['pwrite64', 'EIO', 'shelf-damaged'],
    ['pwrite64', 'ENOSPC', 'shelf-full'],
    ['fdatasync', 'EIO', 'shelf-damaged'],
    ['fsync', 'EIO', 'shelf-damaged'],
    ['link', 'EACCES', 'not-permitted'],
    ['ftruncate', 'EROFS', 'shelf-read-only'],
    ['mkdir', 'ENAMETOOLONG', 'name-refused'],
  ])('every %s says %s', async (call, code, reason) => {
    const done = await copyAll(ground, injecting([`${call}:error=${code}`]));
    expect(done.end).toEqual({ ended: 'done' });
    expect(done.outcomes).toHaveLength(ground.items.length);
    for (const one of done.outcomes) expect(one.is === 'failed' && one.trouble).toMatchObject({ reason, code });
    expectHonest(ground, done);
    expectTidy();
  });

  test('a source that cannot be read', async () => {
    const done = await copyAll(ground, injecting(['pread64:error=EIO'], files()));
    for (const one of done.outcomes)
      expect(one.is === 'failed' && one.trouble).toMatchObject({ reason: 'source-unreadable', code: 'EIO' });
    expect(done.outcomes).toHaveLength(ground.items.length);
    expect(onShelf(ground.shelf)).toEqual([]);
  });

  test('interrupted calls are made again', async () => {
    const done = await copyAll(
      ground,
      injecting(['pread64:error=EINTR:when=1+3', 'pwrite64:error=EINTR:when=1+3'], files()),
    );
    expect(copiedOf(done)).toBe(ground.items.length);
    expectHonest(ground, done);
  });

  test('O_DIRECT that is refused at the first request: copied through the cache', async () => {
    const small = ground.items.slice(0, 2);
    const port = injecting(['pread64:error=EINVAL:when=1', 'pwrite64:error=EINVAL:when=1'], files());
    const done = await copyAll(ground, port, small);
    expect(copiedOf(done)).toBe(small.length);
    expectHonest(ground, done);
  });

  test('no hard links: the name is claimed first, and nothing else is left', async () => {
    const done = await copyAll(ground, injecting(['link:error=EPERM']));
    expect(copiedOf(done)).toBe(ground.items.length);
    expectHonest(ground, done);
    expectTidy();
  });

  test('a flush that fails for all falls back to each file', async () => {
    for (let more = 0; more < 12; more++) ground.add(`Saltmarsh/${more}.mov`, footage(2000, more));
    const done = await copyAll(ground, injecting(['syncfs:error=EIO']));
    expect(copiedOf(done)).toBe(ground.items.length);
    expectHonest(ground, done);
  });
});

/** Spread evenly over all, so that each step has some. */
function some<T>(all: readonly T[], count: number): T[] {
  const step = Math.max(1, all.length / count);
  return Array.from({ length: Math.min(count, all.length) }, (_, at) => all[Math.floor(at * step)]).filter(
    (one) => one !== undefined,
  );
}

/** A job that is killed at a point, then one that is not. Whether the first one was killed. */
async function killedAt({ call, index }: CallPoint): Promise<boolean> {
  const done = await copyAll(ground, injecting([`${call}:signal=SIGKILL:when=${index}`]));
  expectHonest(ground, done);
  const after = await copyAll(ground);
  expect(copiedOf(after), `after a kill at ${call} ${index}`).toBe(ground.items.length);
  expectHonest(ground, after);
  expectTidy();
  clear();
  return done.end.ended === 'broken';
}

/** A call that fails: every file is copied, or said not to be by a name of its own. Whether any was not. */
async function failedAt({ call, index }: CallPoint, code: string): Promise<boolean> {
  const done = await copyAll(ground, injecting([`${call}:error=${code}:when=${index}`]));
  expectHonest(ground, done);
  if (done.end.ended === 'done') expect(done.outcomes, `${call} ${index} ${code}`).toHaveLength(ground.items.length);
  const after = await copyAll(ground);
  expect(copiedOf(after), `after ${code} at ${call} ${index}`).toBe(ground.items.length);
  expectTidy();
  clear();
  return done.end.ended === 'broken' || done.outcomes.some(({ is }) => is !== 'copied');
}

/** Calls of ours that a drive answers; what else node does between them is no drive's to fail. */
const DRIVE_CALLS =
  /^(openat|pread64|pwrite64|write|read|ftruncate|fsync|fdatasync|link|unlink|rename|mkdir|close|fchmod|utimensat|statx|fstat|getdents64|fadvise64|syncfs)$/;
const CODES = ['EIO', 'ENOSPC', 'EROFS', 'EACCES', 'ENAMETOOLONG', 'EINTR'];

describe.skipIf(why !== null)('a job that is cut off anywhere', () => {
  const hour = 3_600_000;

  test(
    'by a kill at a call: the next one completes it, and nothing false was said or left',
    async () => {
      // More files, more calls: with these there are more than a thousand.
      if (LONG)
        for (let more = 0; more < 30; more++) ground.add(`Saltmarsh/day 2/${more}.mov`, footage(9000 + more, more));
      const points = await pointsOf(ground);
      clear();
      expect(points.length).toBeGreaterThan(LONG ? 1000 : 100);
      const tried = LONG ? points : some(points, 12);
      let killed = 0;
      for (const point of tried) killed += Number(await killedAt(point));
      console.log(`killed at ${killed} of ${tried.length} calls, of ${points.length} that there are`);
      expect(killed).toBeGreaterThan(tried.length / 3);
    },
    hour,
  );

  test(
    'by an error of a call: every file has an outcome with a name',
    async () => {
      const points = (await pointsOf(ground)).filter(({ call }) => DRIVE_CALLS.test(call));
      clear();
      const all = points.flatMap((point) => CODES.map((code) => ({ point, code })));
      const tried = LONG ? all : some(all, 12);
      let hurt = 0;
      for (const { point, code } of tried) hurt += Number(await failedAt(point, code));
      console.log(`${hurt} of ${tried.length} failing calls cost a file its copy, of ${all.length} that there are`);
      expect(hurt).toBeGreaterThan(0);
    },
    hour,
  );
});
