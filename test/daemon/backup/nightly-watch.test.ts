import { afterEach, expect, test } from 'vitest';
import { createNightlyWatch } from '../../../src/daemon/backup/nightly-watch.ts';
import { type FakeClock, fakeClock } from '../../fakes/clock.ts';

const HOUR = 3_600_000;
const PLAN = { volume: 'stripe', shelves: ['shelf-a'], nightly: '0 4 * * *', windowSeconds: 21_600 };
const EVENING = Date.UTC(2027, 2, 4, 20);
const notes = new Map<string, string>();
afterEach(() => notes.clear());

function watchWith(clock: FakeClock, begun: string[], wakes: (() => void)[] = []) {
  let refuses = false;
  const watch = createNightlyWatch({
    ...{ plans: [PLAN], zone: 'UTC', clock },
    store: {
      backupNote: async (key) => notes.get(key) ?? null,
      putBackupNote: async (key, text) => {
        if (refuses) throw new Error('the disk is full');
        notes.set(key, text);
      },
    },
    timer: (fields, zone, wake) => {
      expect([fields, zone]).toEqual(['0 4 * * *', 'UTC']);
      wakes.push(wake);
      return () => void wakes.splice(wakes.indexOf(wake), 1);
    },
    begin: ({ volume }, cause) =>
      void begun.push(`${new Date(clock.now()).toISOString().slice(0, 16)} ${volume} ${cause}`),
    failed: () => void begun.push('failed'),
  });
  return { watch, refuse: (does: boolean) => (refuses = does) };
}

test('a night begins one backup, woken by the timer and asked every minute; a restart repeats nothing', async () => {
  const [begun, wakes]: [string[], (() => void)[]] = [[], []];
  const clock = fakeClock(EVENING);
  const { watch } = watchWith(clock, begun, wakes);
  watch.start();
  expect(watch.nextAt('stripe')).toBe(Date.UTC(2027, 2, 5, 4));
  expect(watch.nextAt('other')).toBeNull();
  await clock.advance(8 * HOUR);
  for (const wake of wakes) wake();
  await clock.advance(HOUR);
  expect(begun).toEqual(['2027-03-05T04:00 stripe nightly']);
  watch.stop();
  expect(wakes).toEqual([]);
  await clock.advance(48 * HOUR);
  expect(begun).toHaveLength(1);
  const next = watchWith(clock, begun).watch;
  next.start();
  await clock.advance(HOUR);
  expect(begun.slice(1)).toEqual(['2027-03-07T05:00 stripe catch-up']);
  next.stop();
});

test('a machine that slept over the hour makes up for it when it wakes', async () => {
  const begun: string[] = [];
  const clock = fakeClock(EVENING);
  const { watch } = watchWith(clock, begun);
  watch.start();
  await clock.advance(2 * HOUR);
  clock.jump(9 * HOUR);
  await clock.advance(120_000);
  expect(begun).toEqual(['2027-03-05T07:01 stripe catch-up']);
  watch.stop();
});

test('what cannot be kept does not begin again and again', async () => {
  const begun: string[] = [];
  const clock = fakeClock(EVENING);
  const { watch, refuse } = watchWith(clock, begun);
  watch.start();
  await clock.advance(HOUR);
  refuse(true);
  await clock.advance(7 * HOUR + 60_000);
  expect(new Set(begun)).toEqual(new Set(['failed']));
  refuse(false);
  await clock.advance(60_000);
  expect(begun.at(-1)).toMatch(/nightly$/);
  watch.stop();
});
