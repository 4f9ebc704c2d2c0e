import { describe, expect, test } from 'vitest';
import { loopsHealth } from '../../src/core/health.ts';
import type { RootEvent } from '../../src/core/root-port.ts';
import { createEventQueue } from '../../src/daemon/intake/event-queue.ts';
import { createLoopMarks } from '../../src/daemon/loop-marks.ts';
import { watchedRoot } from '../../src/daemon/watched-root.ts';
import { fakeClock } from '../fakes/clock.ts';
import { type FakeRoot, fakeRoot } from '../fakes/root.ts';

const START = 1_804_161_600_000;
const MINUTE = 60_000;

/** Marks on a clock that we turn; what stands still now. */
function bench() {
  const clock = fakeClock(START);
  const marks = createLoopMarks(clock);
  const health = () => loopsHealth(marks.all(), { ticks: clock.ticks(), now: clock.now() });
  return {
    clock,
    marks,
    health,
    still: () => health().flatMap(({ loop, standsStill }) => (standsStill ? [loop] : [])),
  };
}

describe('marks of loops', () => {
  test('one that moves by itself stands still when it has not for longer than its patience, whatever the wall clock does', async () => {
    const { clock, marks, still, health } = bench();
    const beat = marks.beat({ loop: 'assessment', patienceMs: 2 * MINUTE });
    await clock.advance(2 * MINUTE);
    clock.jump(600 * MINUTE);
    expect(still()).toEqual([]);
    await clock.advance(1);
    expect(still()).toEqual(['assessment']);
    beat.moved();
    expect(still()).toEqual([]);
    expect(health()[0]).toMatchObject({ movedAt: clock.now(), waiting: null, of: null, isOutside: false });
  });

  test('one that has nothing to do rests; what comes to what waits already moves nothing', async () => {
    const { clock, marks, still, health } = bench();
    const line = marks.line({ loop: 'intake', of: 'stripe', patienceMs: MINUTE, isOutside: true });
    await clock.advance(10 * MINUTE);
    expect(still()).toEqual([]);
    line.begins();
    await clock.advance(MINUTE);
    line.begins();
    expect(still()).toEqual([]);
    await clock.advance(1);
    expect(still()).toEqual(['intake']);
    expect(health()[0]).toMatchObject({ waiting: 2, of: 'stripe', isOutside: true });
    line.moved();
    expect(still()).toEqual([]);
    await clock.advance(2 * MINUTE);
    line.ends();
    expect(health()[0]).toMatchObject({ waiting: 1, standsStill: false });
    line.ends();
    await clock.advance(2 * MINUTE);
    expect(health()[0]).toMatchObject({ waiting: 0, standsStill: false });
  });
});

describe('the queue of events', () => {
  test('stands still while the store refuses, with all that waits behind it; taken, it rests', async () => {
    const { clock, marks, still, health } = bench();
    let refuses = true;
    const queue = createEventQueue({
      async take() {
        if (refuses) throw new Error('the disk is full');
      },
      ...{ clock, refused: () => {}, readAll: () => {}, mark: marks.line({ loop: 'intake', patienceMs: MINUTE }) },
    });
    const event: RootEvent = { type: 'gone', paths: ['Saltmarsh/A001.mov'] };
    const taken = [queue.receive(event), queue.receive(event)];
    await clock.advance(MINUTE + 1);
    expect(still()).toEqual(['intake']);
    expect(health()[0]?.waiting).toBe(2);
    refuses = false;
    await clock.advance(5_000);
    await Promise.all(taken);
    expect(health()[0]).toMatchObject({ waiting: 0, standsStill: false });
  });
});

describe('a root that is watched', () => {
  const file = { path: 'a', size: 1, allocated: 1, mtimeNs: 0n, ctimeNs: 0n, dev: 0n, ino: 0n, nlink: 1 };

  test('tells how each reading ended and how long it took, and passes on all else', async () => {
    const { clock, marks, health } = bench();
    const answers: Parameters<typeof answer>[] = [];
    const answer = (how: 'ok' | 'not-media' | 'away') => how;
    const ends: string[] = [];
    let started = 0;
    const states: string[] = [];
    const inner: FakeRoot = {
      ...fakeRoot(),
      async probe() {
        const [how] = answers.shift() ?? ['ok'];
        expect(health()[0]?.waiting).toBe(1);
        await new Promise<void>((resolve) => clock.after(2_000, resolve));
        if (how === 'away') throw new Error('hung');
        if (how === 'not-media') return { ok: false, reason: 'not-media', detail: '' };
        return { ok: true, raw: { structure: null, tracks: [], readerTrouble: null }, stat: file };
      },
      space: async () => ({ totalBytes: 3, freeBytes: 2, availableBytes: 1 }),
    };
    const root = watchedRoot(inner, {
      started: () => {
        started += 1;
      },
      told: (state) => void states.push(state),
      ...{ clock, probes: marks.line({ loop: 'clip-reading', patienceMs: MINUTE }) },
      probed: (end, seconds) => ends.push(`${end} ${seconds}`),
    });
    for (const how of ['ok', 'not-media', 'away'] as const) {
      answers.push([how]);
      const reading = root.probe(file).then(
        ({ ok }) => ok,
        (error: Error) => error.message,
      );
      await clock.advance(2_000);
      expect(await reading).toBe({ ok: true, 'not-media': false, away: 'hung' }[how]);
    }
    expect(ends).toEqual(['ok 2', 'not-media 2', 'no-answer 2']);
    expect(health()[0]?.waiting).toBe(0);
    const events: RootEvent[] = [];
    root.start((event) => void events.push(event));
    inner.setState('hung');
    await clock.advance(0);
    expect([started, states.at(-1)]).toEqual([1, 'hung']);
    expect(events.at(-1)).toEqual({ type: 'state', state: 'hung', detail: null });
    expect(await root.space()).toEqual({ totalBytes: 3, freeBytes: 2, availableBytes: 1 });
  });
});
