import { expect, test } from 'vitest';
import { loopsHealth } from '../../src/core/health.ts';
import type { ServiceHealth } from '../../src/core/service-notice.ts';
import { createLoopMarks } from '../../src/daemon/loop-marks.ts';
import { createServiceTalk } from '../../src/daemon/service-talk.ts';
import { fakeClock } from '../fakes/clock.ts';

const MINUTE = 60_000;

/** A daemon with one loop, told to a service manager that wants to hear every three minutes. */
function talk(watchdogMs: number | null = 3 * MINUTE) {
  const clock = fakeClock(Date.UTC(2027, 2, 3));
  const marks = createLoopMarks(clock);
  const loop = marks.beat({ loop: 'assessment', patienceMs: 2 * MINUTE });
  const said: { minute: number; assignments: readonly string[] }[] = [];
  let isClosed = false;
  const port = {
    watchdogMs,
    say: (assignments: readonly string[]) => void said.push({ minute: clock.ticks() / MINUTE, assignments }),
    async close() {
      isClosed = true;
    },
  };
  const health = (): ServiceHealth => ({
    volumes: [{ name: 'stripe', state: 'live' }],
    loops: loopsHealth(marks.all(), { ticks: clock.ticks(), now: clock.now() }),
  });
  const service = createServiceTalk(port, clock);
  return { clock, loop, said, health, service, isClosed: () => isClosed };
}

const minutesOf = (said: ReturnType<typeof talk>['said'], assignment: string) =>
  said.filter(({ assignments }) => assignments.includes(assignment)).map(({ minute }) => Math.floor(minute));

test('three signs of life fit into the time of the watchdog, and there is none while a loop stands still', async () => {
  const { clock, loop, said, health, service } = talk();
  service.running(health);
  for (let minute = 0; minute < 5; minute++) {
    loop.moved();
    await clock.advance(MINUTE);
  }
  expect(minutesOf(said, 'WATCHDOG=1')).toEqual([0, 1, 2, 3, 4, 5]);
  // It moved last at 4 min, and has two minutes of patience.
  await clock.advance(10 * MINUTE);
  expect(minutesOf(said, 'WATCHDOG=1').at(-1)).toBe(6);
  loop.moved();
  await clock.advance(2_000);
  expect(minutesOf(said, 'WATCHDOG=1').at(-1)).toBe(15);
  expect(said.at(-2)?.assignments).toEqual(['STATUS=Watching stripe (live). Stands still: assessment.']);
});

test('what begins is told at once: a reload, its end, a stop; and after the end nothing', async () => {
  const { clock, said, health, service, isClosed } = talk(null);
  service.running(health);
  service.reloading();
  service.running(health);
  service.stopping();
  await service.close();
  expect(isClosed()).toBe(true);
  await clock.advance(10 * MINUTE);
  expect(said.map(({ assignments }) => assignments[0])).toEqual([
    'STATUS=Opening the state folder.',
    'READY=1',
    'RELOADING=1',
    'READY=1',
    'STOPPING=1',
  ]);
});
