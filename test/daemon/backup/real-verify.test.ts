import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { VerifyRun } from '../../../src/core/backup/verify-run.ts';
import { whyNoShelf } from '../../rim/backup/shelves.ts';
import { realShelf } from './real-shelf.ts';

const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: reading all copies of a real shelf again: ${why}`);

describe.skipIf(why !== null)('copies of a shelf on a drive of its own are read again by command', () => {
  let place: Awaited<ReturnType<typeof realShelf>>;
  beforeEach(async () => {
    place = await realShelf();
  });
  afterEach(async () => {
    await place.verify.stop();
    await place.clear();
  });
  const ALL = { shelf: null, project: null, anew: false };
  const current = (): VerifyRun => {
    const [run] = place.verify.view();
    if (run === undefined) throw new Error('nothing is read');
    return run;
  };
  async function until(holds: (run: VerifyRun) => boolean): Promise<VerifyRun> {
    for (let waited = 0; waited < 30_000; waited += 5) {
      if (holds(current())) return current();
      await sleep(5);
    }
    throw new Error(`not within 30 s: ${JSON.stringify(current())}`);
  }
  const isOver = ({ endedAt }: VerifyRun) => endedAt !== null;
  const copy = (path: string) => join(place.shelf.path, 'stripe', path);

  test('every one, however short ago it was read; what differs, is gone or cannot be read is told apart, and nothing is touched', async () => {
    for (const name of ['A001', 'A002', 'A003', 'A004']) await place.put(`Saltmarsh/${name}.mov`, `take ${name}`);
    await place.put('Tidewater Sessions/T001.mov', 'another project');
    await place.run();
    expect(await place.verify.begin(ALL)).toEqual({ begun: [{ volume: 'stripe', shelf: 'shelf-a' }] });
    expect(await until(isOver)).toMatchObject({ stage: 'done', files: 5, differing: 0, unread: 0, gone: 0 });

    writeFileSync(copy('Saltmarsh/A001.mov'), 'take A0X1');
    rmSync(copy('Saltmarsh/A002.mov'));
    rmSync(copy('Saltmarsh/A003.mov'));
    mkdirSync(copy('Saltmarsh/A003.mov'));
    await place.put('Saltmarsh/A004.mov', 'TAKE A004');
    writeFileSync(copy('Saltmarsh/A004.mov'), 'tXke A004');
    place.skip(1);
    await place.verify.begin({ ...ALL, shelf: 'shelf-a', project: 'Saltmarsh' });
    const run = await until(isOver);
    expect(run).toMatchObject({
      ...{ stage: 'done', files: 4, differing: 2, unread: 1, gone: 1, goneFirst: ['stripe/Saltmarsh/A002.mov'] },
      all: { files: 4 },
    });
    const found = new Map(run.bad.map(({ path, state, is }) => [path, [state, is]]));
    expect(found).toEqual(
      new Map([
        ['stripe/Saltmarsh/A001.mov', ['differs', 'as-copied']],
        ['stripe/Saltmarsh/A003.mov', ['unread', 'as-copied']],
        ['stripe/Saltmarsh/A004.mov', ['differs', 'differs']],
      ]),
    );
    expect(readFileSync(copy('Saltmarsh/A001.mov'), 'utf8')).toBe('take A0X1');
  });

  test('waits for a backup that goes on, steps aside for one that begins, and goes on from there', async () => {
    for (let at = 0; at < 8; at++) await place.put(`Saltmarsh/A00${at}.mov`, Buffer.alloc(5_000_000, at));
    await place.run();
    const { promise, resolve } = Promise.withResolvers<void>();
    const backup = place.lane.first(() => promise);
    place.skip(1);
    await place.verify.begin(ALL);
    await sleep(100);
    expect(current()).toMatchObject({ stage: 'waiting', files: 0 });
    place.setPace({ paused: false, ceilingBps: 8_000_000 });
    resolve();
    await backup;
    await until(({ movedBytes }) => movedBytes > 4_000_000);
    let stageMeanwhile = '';
    await place.lane.first(async () => {
      stageMeanwhile = current().stage;
    });
    expect(stageMeanwhile).toBe('waiting');
    place.setPace({ paused: false, ceilingBps: null });
    expect(await until(isOver)).toMatchObject({ stage: 'done', files: 8, bytes: 40_000_000, differing: 0 });
  });

  test('stands still while playback goes first, and is ended by command; what was read stays read', async () => {
    // More than one batch of 1 GiB would take long: small files come in batches of 2048.
    const frames = Array.from({ length: 2_200 }, (_, index) => `Saltmarsh/frames/${index}.dpx`);
    for (const frame of frames) await place.put(frame, Buffer.alloc(2_000, frame));
    await place.run();
    place.skip(1);
    place.setPace({ paused: true, ceilingBps: null });
    await place.verify.begin(ALL);
    await until(({ stage }) => stage === 'paused');
    await sleep(300);
    expect(current()).toMatchObject({ stage: 'paused', files: 0 });
    place.setPace({ paused: false, ceilingBps: 3_000_000 });
    await until(({ files }) => files === 2_048);
    expect(place.verify.cancel('shelf-a')).toEqual({ ended: 1 });
    expect(await until(isOver)).toMatchObject({ stage: 'stopped', all: { files: 2_200 } });
    const { files } = current();
    place.setPace({ paused: false, ceilingBps: null });
    await place.verify.begin(ALL);
    expect(await until(isOver)).toMatchObject({ stage: 'done', files: 2_200, earlierFiles: files });
  });

  test('a shelf that is away, one that nobody knows, and a project without copies are refused in words', async () => {
    await place.put('Saltmarsh/A001.mov', 'one');
    expect(await place.verify.begin(ALL)).toEqual({
      problem: 'there are no copies on any shelf; "headroomd backup status" tells what lies where',
    });
    await place.run();
    expect(await place.verify.begin({ ...ALL, shelf: 'shelf-z' })).toEqual({
      problem: 'no backup goes to shelf-z; there are shelf-a',
    });
    expect(await place.verify.begin({ ...ALL, project: 'Lock Keepers' })).toEqual({
      problem: 'there are no copies of Lock Keepers on any shelf; "headroomd backup status" tells what lies where',
    });
    place.shelfDrive.unmount();
    place.skip(1);
    await place.verify.begin(ALL);
    expect(await until(isOver)).toMatchObject({ stage: 'refused', files: 0 });
    place.shelfDrive.mount();
  });
});
