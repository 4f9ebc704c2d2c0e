import { describe, expect, test } from 'vitest';
import { entries } from '../../../src/core/intake/overlay-map.ts';
import { arrivalOf, rateOf } from '../../../src/core/intake/settle-state.ts';
import { type Answer, stat, Walk, WHOLE } from './settle-walk.ts';

const MB = 1_000_000;

/** What was taken apart: paths, phase, reason, detail, and the file that is named. */
function asides({ action }: Walk): unknown[][] {
  if (action.do !== 'part') throw new Error(`nothing was taken apart: ${action.do}`);
  return action.asides.map(({ state }) => [
    [...entries(state.members)].map(([name]) => name).join(),
    state.phase,
    state.reason,
    state.detail,
    state.about,
  ]);
}

describe('units of several files', () => {
  const take = [stat('A001.mov'), stat('A001.wav'), stat('A001.xml')];

  test('only what is not yet complete is asked for again', () => {
    const walk = new Walk().seen(0, ...take).wait();
    walk.answer({ 'A001.mov': WHOLE, 'A001.wav': { writers: 'open', wholeness: 'cut' }, 'A001.xml': WHOLE }, take);
    expect(arrivalOf(walk.state)).toEqual({ stage: 'copying', reason: 'open-for-writing', detail: null });
    expect(walk.state.about).toBe('A001.wav');
    expect(walk.wait().action).toMatchObject({ do: 'inspect', paths: ['A001.wav'] });
    expect(walk.answer(WHOLE, take).action).toMatchObject({ do: 'probe', evidence: 'container-whole' });
  });

  test('a sidecar never holds up or refuses its clip by its content', () => {
    const sidecar: Answer[] = [
      { writers: 'none', wholeness: 'no-structure' },
      { writers: 'none', wholeness: 'empty' },
      { writers: 'none', wholeness: 'cut' },
      { ...WHOLE, error: 'EACCES: permission denied' },
    ];
    for (const answer of sidecar) {
      const walk = new Walk().seen(0, ...take).wait();
      walk.answer({ 'A001.mov': WHOLE, 'A001.wav': WHOLE, 'A001.xml': answer }, take);
      expect(walk.action).toEqual({ do: 'probe', generation: 1, evidence: 'container-whole' });
    }
  });

  test('the weakest evidence of the footage is told', () => {
    const walk = new Walk().seen(0, ...take).wait();
    const answers: Record<string, Answer> = {
      'A001.wav': { writers: 'none', wholeness: 'no-structure' },
      'A001.mov': WHOLE,
      'A001.xml': WHOLE,
    };
    walk.answer(answers, take).wait().answer(answers, take);
    expect(walk.action).toMatchObject({ do: 'probe', evidence: 'no-writer' });
  });

  test('a bad file is named', () => {
    const walk = new Walk().seen(0, ...take).wait();
    walk.answer(
      {
        'A001.mov': { writers: 'none', wholeness: 'not-media', detail: 'plain text' },
        'A001.wav': WHOLE,
        'A001.xml': WHOLE,
      },
      take,
    );
    expect(asides(walk)).toEqual([['A001.mov', 'refused', 'not-media', 'plain text', 'A001.mov']]);
    expect(walk.state.members.size).toBe(2);
    walk.send({ type: 'tick' });
    expect(walk.action).toMatchObject({ do: 'probe', evidence: 'container-whole' });
  });

  const good: Answer = WHOLE;
  const cut: Answer = { writers: 'none', wholeness: 'cut', detail: '5 of 10 bytes' };
  const pair = [stat('A001.mov'), stat('A001.mp4', 0)];
  const until = (walk: Walk, answers: Record<string, Answer>, files = pair): Walk => {
    for (let looks = 0; walk.action.do === 'inspect' && looks < 3000; looks += 1) walk.answer(answers, files).wait();
    return walk;
  };

  // [what the other file is, when it no longer holds the good one up]
  test.each<[Answer, number]>([
    [cut, 5],
    [{ writers: 'none', wholeness: 'unwritten' }, 5],
    [{ writers: 'none', wholeness: 'empty' }, 5],
    [{ writers: 'none', wholeness: 'not-media' }, 0.3],
    [{ ...WHOLE, error: 'EACCES: permission denied' }, 0.3],
    [{ writers: 'unknown', wholeness: 'cut' }, 30],
    [{ writers: 'unknown', wholeness: 'empty' }, 30],
  ])('a good file is held up for a moment by %j, and then read alone', (bad, seconds) => {
    const remote = bad.writers === 'unknown';
    const walk = new Walk().seen(0, ...pair).wait();
    until(walk, { 'A001.mov': remote ? { ...good, writers: 'unknown' } : good, 'A001.mp4': bad });
    expect(walk.now).toBeGreaterThanOrEqual(seconds);
    expect(walk.now).toBeLessThan(seconds + (remote ? 5.5 : 0.5));
    expect(asides(walk).map(([name, , , , about]) => [name, about])).toEqual([['A001.mp4', 'A001.mp4']]);
    walk.send({ type: 'tick' });
    expect(walk.action).toMatchObject({ do: 'probe', evidence: 'container-whole' });
    expect([...entries(walk.state.members)].map(([name]) => name)).toEqual(['A001.mov']);
  });

  test('what is apart goes on by itself: looked at, stalled at its time, never taken apart again', () => {
    const walk = new Walk().seen(0, ...pair).wait();
    until(walk, { 'A001.mov': good, 'A001.mp4': cut });
    if (walk.action.do !== 'part') throw new Error(walk.action.do);
    const aside = new Walk();
    aside.now = walk.now;
    aside.state = walk.action.asides[0]?.state ?? aside.state;
    expect([aside.state.phase, aside.state.reason, aside.state.changedAt]).toEqual(['watching', 'incomplete', 0]);
    until(aside.send({ type: 'tick' }, aside.state.wakeAt), { 'A001.mp4': cut });
    expect(aside.action).toEqual({ do: 'stall', reason: 'incomplete', detail: '5 of 10 bytes' });
    expect(aside.now).toBeGreaterThanOrEqual(600);
    expect(aside.now).toBeLessThan(606);
  });

  test('nothing is taken apart while a file of the take is written', () => {
    const walk = new Walk().seen(0, ...pair).wait();
    until(walk, { 'A001.mov': { writers: 'open', wholeness: 'cut' }, 'A001.mp4': cut });
    expect(walk.action).toMatchObject({ do: 'stall', reason: 'open-for-writing' });
    expect(walk.state.members.size).toBe(2);
  });

  test('bad frames of a sequence stay together', () => {
    const frames = [0, 1, 2, 3, 4].map((number) => stat(`r/x_000${number}.dpx`));
    const walk = new Walk().seen(0, ...frames).wait();
    until(
      walk,
      { 'r/x_0000.dpx': good, 'r/x_0001.dpx': cut, 'r/x_0002.dpx': good, 'r/x_0003.dpx': cut, 'r/x_0004.dpx': good },
      frames,
    );
    if (walk.action.do !== 'part') throw new Error(walk.action.do);
    expect(walk.action.asides.map(({ state }) => [state.members.size, state.about])).toEqual([[2, 'r/x_0001.dpx']]);
    expect(walk.state.members.size).toBe(3);
  });

  test('of two pictures the one whose reading fails is refused alone', () => {
    const walk = new Walk().seen(0, ...pair).wait();
    walk.answer(good, pair);
    expect(walk.action.do).toBe('probe');
    const outcome = { ok: false, reason: 'unreadable', detail: 'EIO: i/o error', path: 'A001.mp4' } as const;
    walk.send({ type: 'probed', generation: walk.state.generation, outcome });
    expect(asides(walk)).toEqual([['A001.mp4', 'refused', 'unreadable', 'EIO: i/o error', 'A001.mp4']]);
    expect(walk.send({ type: 'tick' }).action.do).toBe('probe');
  });

  test('nothing is refused while another file of the take is still written', () => {
    const walk = new Walk().seen(0, ...take).wait();
    walk.answer(
      {
        'A001.mov': { writers: 'none', wholeness: 'not-media' },
        'A001.wav': { writers: 'open', wholeness: 'cut' },
        'A001.xml': WHOLE,
      },
      take,
    );
    expect(walk.action.do).toBe('wait');
    expect(arrivalOf(walk.state).reason).toBe('open-for-writing');
  });

  test('frames that come one every five seconds are one arrival, not one each', () => {
    const walk = new Walk();
    const finished: number[] = [];
    for (let frame = 0; frame < 12; frame += 1) {
      walk.seen(frame * 5, stat(`r/x_${String(frame).padStart(4, '0')}.dpx`));
      walk.wait(frame * 5 + 4.9);
      if (walk.action.do === 'inspect') {
        const files = walk.action.paths.map((path) => stat(path));
        walk.answer(WHOLE, files);
        finished.push(frame);
        walk.send({ type: 'probed', generation: walk.state.generation, outcome: { ok: true } });
      }
    }
    // The first frame alone cannot tell that more will come.
    expect(finished).toEqual([0]);
  });

  test('12,000 frames at 24 a second cost little', () => {
    const started = performance.now();
    const walk = new Walk();
    for (let frame = 0; frame < 12_000; frame += 1)
      walk.seen(frame / 24, stat(`r/x_${String(frame).padStart(6, '0')}.dpx`, 50 * MB));
    const perSecondOfArrival = (performance.now() - started) / (12_000 / 24);
    // Milliseconds of work per second of arrival: 20 would be two percent of a core.
    expect(perSecondOfArrival).toBeLessThan(20);
    walk.wait();
    expect(walk.action.do === 'inspect' && walk.action.paths.length).toBe(12_000);
    expect((rateOf(walk.state, 11_999 / 24) ?? 0) / MB).toBeCloseTo(24 * 50, -1);
  });
});

describe('temporary names', () => {
  test.each(['.A001.mov.x7Qp2a', 'A001.mov.part', 'A001.mov~'])('%s is held, and stalls after ten minutes', (name) => {
    const walk = new Walk().seen(0, stat(name));
    expect(arrivalOf(walk.state)).toEqual({ stage: 'copying', reason: 'waits-for-rename', detail: null });
    expect(walk.wait().action).toEqual({ do: 'stall', reason: 'waits-for-rename', detail: null });
    expect(walk.now).toBe(600);
    expect(walk.seen(700, stat(name, 200, 2)).state.reason).toBe('waits-for-rename');
    expect(walk.send({ type: 'gone', paths: [name] }).action).toEqual({ do: 'forget' });
  });

  test('what promises no footage is an ordinary file', () => {
    const walk = new Walk().seen(0, stat('notes.txt~')).wait();
    expect(walk.action.do).toBe('inspect');
  });
});

describe('the rate shown', () => {
  test('nothing before growth, then the true rate from the first seconds on', () => {
    const walk = new Walk().seen(0, stat('A001.mov', 500 * MB));
    expect(rateOf(walk.state, 0)).toBe(null);
    for (let tenths = 1; tenths <= 200; tenths += 1)
      walk.seen(tenths / 10, stat('A001.mov', (500 + tenths * 10) * MB, tenths + 1));
    expect(rateOf(walk.state, 20)).toBeCloseTo(100 * MB, -5);
  });

  test('a file reserved in full has not arrived at once', () => {
    const reserved = (allocated: number, version: number) => ({ ...stat('A001.mov', 1000 * MB, version), allocated });
    const walk = new Walk()
      .seen(0, reserved(4096, 1))
      .seen(1, reserved(50 * MB, 2))
      .seen(2, reserved(100 * MB, 3));
    expect((rateOf(walk.state, 2) ?? 0) / MB).toBeCloseTo(50, 0);
  });

  test('there is none when nothing has come for three seconds, whatever else of the file changes', () => {
    const walk = new Walk().seen(0, stat('A001.mov', MB)).seen(1, stat('A001.mov', 11 * MB, 2));
    expect(rateOf(walk.state, 3.9)).toBeGreaterThan(0);
    expect(rateOf(walk.state, 4)).toBeNull();
    expect(rateOf(walk.seen(3.9, stat('A001.mov', 11 * MB, 3)).state, 4)).toBeNull();
  });
});
