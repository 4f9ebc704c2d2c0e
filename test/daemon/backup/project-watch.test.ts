import { expect, test } from 'vitest';
import type { ShelfState } from '../../../src/core/backup/backup-view.ts';
import type { BacklogPage } from '../../../src/core/backup/copies.ts';
import { watchProjectFiles } from '../../../src/daemon/backup/project-watch.ts';
import { NOON, sampleAssessment, sampleVolume } from '../../core/samples.ts';
import { fakeClock } from '../../fakes/clock.ts';

const MINUTE = 60_000;
const shelf = (name: string, over: Partial<ShelfState> = {}): ShelfState => ({
  ...{ name, path: `/media/${name}`, rotate: false, volumes: ['stripe'], state: 'ready', message: null },
  known: { id: `id of ${name}`, name, drive: null, seenAt: NOON, totalBytes: 9, freeBytes: 9 },
  ...{ lookedAt: NOON, full: null },
  ...over,
});
/** What one lacks does not matter here, but that it does. */
const LACKS = { files: [{}], next: null } as unknown as BacklogPage;

test('once an hour each shelf that is here and lacks a project file gets it, while nobody needs the disk', async () => {
  const clock = fakeClock(NOON);
  const begun: string[] = [];
  const failed: string[] = [];
  let lacking = ['id of shelf-a', 'id of shelf-b', 'id of shelf-c'];
  let volume = sampleVolume();
  const stop = watchProjectFiles({
    ...{ volumes: ['stripe'], clock, assessment: () => sampleAssessment({ volumes: [volume] }) },
    store: {
      backlog: async (_volume, id, rank) => {
        expect(rank).toBe(1);
        if (lacking.includes('broken')) throw new Error('the state cannot be read');
        return lacking.includes(id) ? LACKS : { files: [], next: null };
      },
    },
    shelves: () => [shelf('shelf-a'), shelf('shelf-b', { state: 'shelf-absent' }), shelf('shelf-c', { volumes: [] })],
    begin: (order) => void begun.push(`${(clock.now() - NOON) / MINUTE} ${order.volume} ${order.shelf} ${order.cause}`),
    failed: (error) => void failed.push(String(error)),
  });
  await clock.advance(4 * MINUTE);
  expect(begun).toEqual([]);
  await clock.advance(62 * MINUTE);
  expect(begun).toEqual(['5 stripe shelf-a project-files', '65 stripe shelf-a project-files']);
  volume = sampleVolume({
    load: { share: 2, isHigh: true, readBps: 9e9, writeBps: 0, ownReadBps: 0 },
    speed: { ...sampleVolume().speed, readBudgetBps: 1e8 },
  });
  await clock.advance(60 * MINUTE);
  volume = sampleVolume();
  lacking = [];
  await clock.advance(60 * MINUTE);
  expect(begun).toHaveLength(2);
  lacking = ['broken'];
  await clock.advance(60 * MINUTE);
  expect(failed).toEqual(['Error: the state cannot be read']);
  stop();
  lacking = ['id of shelf-a'];
  await clock.advance(600 * MINUTE);
  expect(begun).toHaveLength(2);
});
