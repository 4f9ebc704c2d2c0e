import { closeSync, linkSync, openSync, renameSync, symlinkSync, utimesSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { CopyOutcome } from '../../../src/core/backup/copy-port.ts';
import { copyAll, copyPort, FULL_SPEED, footage, guardOf, type JobGround, jobGround, onShelf } from './jobs.ts';

const MEBIBYTE = 1_048_576;

let ground: JobGround;
beforeEach(() => {
  ground = jobGround();
});
afterEach(() => ground.remove());

describe('a source that is not what was listed', () => {
  const changes: [string, (path: string) => void][] = [
    ['was written to', (path) => writeFileSync(path, footage(50_000, 5))],
    [
      'is another file',
      (path) => {
        renameSync(path, `${path}.old`);
        writeFileSync(path, footage(50_000, 1));
      },
    ],
    ['has another name as well', (path) => linkSync(path, `${path}.link`)],
    ['has its time set back', (path) => utimesSync(path, 1e9, 1e9)],
  ];
  test.each(changes)('it %s', async (_, change) => {
    const item = ground.add('Saltmarsh/one.mov', footage(50_000, 1));
    change(join(ground.volume, item.source));
    const { outcomes } = await copyAll(ground);
    expect(outcomes).toEqual([{ id: 0, is: 'changed' }]);
    expect(onShelf(ground.shelf)).toEqual([]);
  });

  test('it went, or is a link now', async () => {
    const gone = ground.add('Saltmarsh/gone.mov', footage(50_000, 1));
    const link = ground.add('Saltmarsh/link.mov', footage(9 * MEBIBYTE, 1));
    for (const { source } of [gone, link])
      renameSync(join(ground.volume, source), join(ground.volume, `${source}.old`));
    symlinkSync(join(ground.volume, `${link.source}.old`), join(ground.volume, link.source));
    const { outcomes } = await copyAll(ground);
    for (const outcome of outcomes)
      expect(outcome).toMatchObject({ is: 'failed', trouble: { reason: 'source-missing' } });
  });

  test.each([2 * MEBIBYTE, 40 * MEBIBYTE])('it changes while %d bytes of it are copied', async (bytes) => {
    const item = ground.add('Saltmarsh/one.mov', footage(bytes, 1));
    const outcomes: CopyOutcome[] = [];
    const job = { volume: ground.volume, shelf: guardOf(ground.shelf), pace: { paused: false, ceilingBps: bytes } };
    let touched = false;
    const hooks = {
      settled: (batch: CopyOutcome[]) => void outcomes.push(...batch),
      progress: ({ writtenBytes }: { writtenBytes: number }) => {
        if (touched || writtenBytes === 0) return;
        touched = true;
        const fd = openSync(join(ground.volume, item.source), 'r+');
        writeSync(fd, 'x', 10);
        closeSync(fd);
        run.pace(FULL_SPEED);
      },
    };
    const run = copyPort().copy(job, ground.items, hooks, new AbortController().signal);
    expect(await run.end).toEqual({ ended: 'done' });
    expect(outcomes).toEqual([{ id: 0, is: 'changed' }]);
    expect(onShelf(ground.shelf)).toEqual([]);
  });
});
