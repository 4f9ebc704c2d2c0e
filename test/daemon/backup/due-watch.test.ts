import { expect, test } from 'vitest';
import type { Assessment } from '../../../src/core/assess/assessment.ts';
import type { BackupRun } from '../../../src/core/backup/backup-run.ts';
import { createDueWatch } from '../../../src/daemon/backup/due-watch.ts';
import { createVolumeWatch } from '../../../src/daemon/backup/volume-watch.ts';
import { NOON, sampleArrival, sampleAssessment, sampleVolume } from '../../core/samples.ts';
import { type FakeClock, fakeClock } from '../../fakes/clock.ts';

const MINUTE = 60_000;
const HOUR = 60 * MINUTE;
const PLAN = { volume: 'stripe', shelves: ['shelf-a', 'shelf-b'], nightly: '0 4 * * *', windowSeconds: 21_600 };
const NIGHT = Date.UTC(2027, 2, 5, 4);
/** 10 GB, of noon. */
const exposed = (exposedBytes = 1e10): Assessment =>
  sampleAssessment({
    volumes: [
      sampleVolume({
        safety: { exposedBytes, exposedClips: 1, exposedSeconds: 10, exposedSince: exposedBytes > 0 ? NOON : null },
      }),
    ],
  });

/** What outlives a daemon, and what is round it. */
function world(clock: FakeClock = fakeClock(NOON)) {
  return {
    clock,
    notes: new Map<string, string>(),
    begun: [] as string[],
    failed: [] as string[],
    wakes: new Set<() => void>(),
    refuses: false,
    asked: 0,
    now: exposed(0),
    shelves: [
      { name: 'shelf-a', isThere: true, lacksBytes: 1e10, hadAllAt: null, secondsPerByte: 2e-8 },
      { name: 'shelf-b', isThere: true, lacksBytes: 1e10, hadAllAt: null, secondsPerByte: 2e-8 },
    ],
  };
}

function daemon(round: ReturnType<typeof world>) {
  const store = {
    backupNote: async (key: string) => round.notes.get(key) ?? null,
    putBackupNote: async (key: string, text: string) => {
      if (round.refuses) throw new Error('the disk is full');
      round.notes.set(key, text);
    },
  };
  const known = { store, clock: round.clock, assessment: () => round.now };
  return createDueWatch({
    ...{ ...known, plans: [PLAN], zone: 'UTC', volumes: createVolumeWatch(known), changed: () => {} },
    shelves: async () => round.shelves,
    timer: {
      start(_text, _zone, wake) {
        round.wakes.add(wake);
        return () => void round.wakes.delete(wake);
      },
    },
    begin: ({ volume, shelf, cause, until }) => {
      const window = until === null ? '' : ` until ${new Date(until).toISOString().slice(11, 16)}`;
      round.begun.push(
        `${new Date(round.clock.now()).toISOString().slice(8, 16)} ${volume} ${shelf} ${cause}${window}`,
      );
    },
    failed: (error) => void round.failed.push(String(error)),
    asked: () => {
      round.asked += 1;
    },
  });
}

const over = (shelf: string, more: Partial<BackupRun> = {}): BackupRun =>
  ({
    ...{ volume: 'stripe', shelf, cause: 'nightly', startedAt: NIGHT, stage: 'done', troubles: [] },
    ...more,
  }) as unknown as BackupRun;

test('a night begins one run for each shelf, woken or asked; a restart repeats nothing, and one that was missed is made up for', async () => {
  const round = world();
  const watch = daemon(round);
  await watch.start();
  await round.clock.advance(16 * HOUR);
  for (const wake of round.wakes) wake();
  await round.clock.advance(5 * MINUTE);
  expect(round.begun).toEqual([
    '05T04:00 stripe shelf-a nightly until 10:00',
    '05T04:00 stripe shelf-b nightly until 10:00',
  ]);
  await watch.ended(over('shelf-a'));
  await watch.ended(over('shelf-b'));
  watch.stop();
  expect(round.wakes.size).toBe(0);
  await round.clock.advance(50 * HOUR);
  expect(round.begun).toHaveLength(2);
  await daemon(round).start();
  await round.clock.advance(HOUR);
  expect(round.begun.slice(2)).toEqual([
    '07T06:05 stripe shelf-a catch-up until 10:00',
    '07T06:05 stripe shelf-b catch-up until 10:00',
  ]);
  expect(round.failed).toEqual([]);
});

test('it tells when each shelf had all last, also after a restart; and each time all were asked', async () => {
  const round = world();
  const watch = daemon(round);
  await watch.start();
  expect(watch.successes()).toEqual([]);
  await round.clock.advance(16 * HOUR + 5 * MINUTE);
  await watch.ended(over('shelf-a'));
  await watch.ended(over('shelf-b', { stage: 'broken' }));
  const at = round.clock.now();
  expect(watch.successes()).toEqual([{ volume: 'stripe', shelf: 'shelf-a', at }]);
  watch.stop();
  const next = daemon(round);
  await next.start();
  expect(next.successes()).toEqual([{ volume: 'stripe', shelf: 'shelf-a', at }]);
  await round.clock.advance(0);
  const asked = round.asked;
  await round.clock.advance(3 * MINUTE);
  expect(round.asked - asked).toBe(3);
});

test('a machine that slept makes up for it when it wakes', async () => {
  const round = world();
  await daemon(round).start();
  await round.clock.advance(8 * HOUR);
  round.clock.jump(15 * HOUR);
  await round.clock.advance(2 * MINUTE);
  expect(round.begun).toEqual(['05T11:01 stripe shelf-a catch-up', '05T11:01 stripe shelf-b catch-up']);
});

test('what cannot be kept is not begun', async () => {
  const round = world();
  await daemon(round).start();
  await round.clock.advance(15 * HOUR);
  round.refuses = true;
  await round.clock.advance(2 * HOUR);
  expect(round.begun).toEqual([]);
  expect(new Set(round.failed)).toEqual(new Set(['Error: the disk is full']));
  round.refuses = false;
  await round.clock.advance(MINUTE);
  expect(round.begun).toHaveLength(2);
});

test('what ended has ended, though it cannot be kept', async () => {
  const round = world();
  const watch = daemon(round);
  await watch.start();
  await round.clock.advance(16 * HOUR);
  round.refuses = true;
  await watch.ended(over('shelf-a', { stage: 'broken' }));
  await watch.ended(over('shelf-b'));
  expect(round.failed).toContain('Error: the disk is full');
  round.refuses = false;
  await round.clock.advance(16 * MINUTE);
  expect(round.begun.slice(2)).toEqual(['05T04:15 stripe shelf-a retry until 10:00']);
});

test('footage that came is backed up after ten quiet minutes; what somebody asked for makes up for it', async () => {
  const round = world();
  const watch = daemon(round);
  await watch.start();
  await round.clock.advance(HOUR);
  round.now = { ...exposed(), arrivals: [sampleArrival()] };
  await round.clock.advance(30 * MINUTE);
  expect(round.begun).toEqual([]);
  round.now = { ...exposed(), arrivals: [sampleArrival({ volume: 'other' }), sampleArrival({ stage: 'refused' })] };
  await watch.ended(over('shelf-b', { cause: 'command', startedAt: round.clock.now() }));
  round.shelves = round.shelves.map((shelf) => ({ ...shelf, lacksBytes: shelf.name === 'shelf-b' ? 0 : 1e10 }));
  await round.clock.advance(9 * MINUTE);
  expect(round.begun).toEqual([]);
  await round.clock.advance(2 * MINUTE);
  expect(round.begun).toEqual(['04T13:40 stripe shelf-a card-finished']);
});

test('a run that failed is tried again after a quarter of an hour, and goes on over a restart; one that stopped waits for the night', async () => {
  const round = world();
  const watch = daemon(round);
  await watch.start();
  await round.clock.advance(16 * HOUR);
  await watch.ended(over('shelf-a', { stage: 'broken' }));
  await watch.ended(over('shelf-b', { stage: 'stopped' }));
  await round.clock.advance(14 * MINUTE);
  watch.stop();
  const next = daemon(round);
  await next.start();
  await round.clock.advance(2 * MINUTE);
  expect(round.begun.slice(2)).toEqual(['05T04:15 stripe shelf-a retry until 10:00']);
  // Killed in the middle of it: the pause is longer, the window the same.
  next.stop();
  await daemon(round).start();
  await round.clock.advance(31 * MINUTE);
  expect(round.begun.slice(3)).toEqual(['05T04:46 stripe shelf-a retry until 10:00']);
});

test('it tells when the next one begins, how long it takes, and what may happen before', async () => {
  const round = world();
  const watch = daemon(round);
  await watch.start();
  const layout = { level: '0', members: 4, drive: 'nvme', link: null, basis: 'detected' } as never;
  round.now = { ...exposed(), volumes: exposed().volumes.map((volume) => ({ ...volume, layout })) };
  await round.clock.advance(2 * MINUTE);
  const outlook = watch.outlooks().get('stripe');
  // Seen to have come a minute after the start: ten quiet minutes.
  expect(outlook?.next).toEqual({ at: NOON + 11 * MINUTE, reason: 'card-finished', heldBy: null });
  // 2 x 10 GB at 50 MB/s, written and read back: 400 s; of six hours.
  expect(outlook?.nights).toEqual([expect.objectContaining({ seconds: 400, fits: true, windowSeconds: 21_600 })]);
  expect(outlook?.loss?.hours).toBeCloseTo((9 * 60 + 400) / 3600, 6);
  // 10 GB for a minute: what was exposed before, nobody saw.
  expect(outlook?.exposedTbHours).toBeCloseTo(0.01 / 60, 9);
});
