import { expect, test } from 'vitest';
import { newRun } from '../../../src/core/backup/backup-run.ts';
import type { ShelfState } from '../../../src/core/backup/backup-view.ts';
import { createShelfWatch } from '../../../src/daemon/backup/shelf-watch.ts';
import { NOON, sampleAssessment, sampleSum, sampleVolume } from '../../core/samples.ts';
import { fakeClock } from '../../fakes/clock.ts';

const MINUTE = 60_000;
const shelf = (state: ShelfState['state']): ShelfState => ({
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state, message: null },
  ...{ lookedAt: NOON, full: null, known: null },
});

function world() {
  const clock = fakeClock(NOON);
  const round = {
    clock,
    counts: 0,
    lacks: 0,
    bytes: 1,
    state: 'ready' as ShelfState['state'],
    notes: new Map<string, string>(),
  };
  const watch = createShelfWatch({
    clock,
    assessment: () => sampleAssessment({ volumes: [sampleVolume({ areas: [sampleSum({ bytes: round.bytes })] })] }),
    store: {
      backlogSum: async () => {
        round.counts++;
        return { files: 1, bytes: round.lacks, footageFiles: 1, footageBytes: round.lacks };
      },
      backupNote: async (key) => round.notes.get(key) ?? null,
      putBackupNote: async (key, text) => void round.notes.set(key, text),
    },
    shelves: () => [shelf(round.state)],
    runs: () => [],
  });
  const look = async () => (await watch.look('stripe', ['shelf-a']))?.[0];
  return { round, watch, look };
}

test('what a shelf lacks is counted when it may have become something, and seldom while it is or nothing changes', async () => {
  const { round, look } = world();
  expect(await look()).toMatchObject({ lacksBytes: 0, hadAllAt: NOON, isThere: true });
  await round.clock.advance(10 * MINUTE);
  expect(await look()).toMatchObject({ lacksBytes: 0, hadAllAt: NOON + 10 * MINUTE });
  expect(round.counts).toBe(1);
  // Something came.
  Object.assign(round, { bytes: 2, lacks: 5 });
  expect(await look()).toMatchObject({ lacksBytes: 5, hadAllAt: NOON + 10 * MINUTE });
  expect(round.counts).toBe(2);
  for (let more = 3; more < 8; more++) {
    await round.clock.advance(MINUTE);
    Object.assign(round, { bytes: more, lacks: more });
    await look();
  }
  expect(round.counts).toBe(3);
  await round.clock.advance(29 * MINUTE);
  await look();
  expect(round.counts).toBe(3);
  await round.clock.advance(MINUTE);
  await look();
  expect(round.counts).toBe(4);
});

test('after a run it is counted anew, and how fast that went is kept', async () => {
  const { round, watch, look } = world();
  round.lacks = 7;
  expect((await look())?.secondsPerByte).toBeNull();
  round.lacks = 0;
  const run = newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON });
  await watch.ended({ ...run, movedBytes: 2e9, copyingSeconds: 10 });
  // 1 GB written and read back in ten seconds.
  expect(await look()).toMatchObject({ lacksBytes: 0, secondsPerByte: 1e-8 });
  expect(round.counts).toBe(2);
});

test('nothing is said of shelves that were not looked at yet; one that is away is not there', async () => {
  const { round, look } = world();
  round.state = null;
  expect(await look()).toBeUndefined();
  round.state = 'shelf-absent';
  expect(await look()).toMatchObject({ isThere: false });
  round.state = 'new';
  expect(await look()).toMatchObject({ isThere: true });
});
