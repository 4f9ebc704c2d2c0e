import { describe, expect, test } from 'vitest';
import { arrivalOf, rateOf } from '../../../src/core/intake/settle-state.ts';
import { type Answer, stat, Walk, WHOLE } from './settle-walk.ts';

const SECOND = 1;
const MB = 1_000_000;

describe('units of several files', () => {
  const take = [stat('A001.mov'), stat('A001.wav'), stat('A001.xml')];

  test('only what is not yet complete is asked for again', () => {
    const walk = new Walk().seen(0, ...take).wait();
    walk.answer({ 'A001.mov': WHOLE, 'A001.wav': { writers: 'open', wholeness: 'cut' }, 'A001.xml': WHOLE }, take);
    expect(arrivalOf(walk.state)).toEqual({ stage: 'copying', reason: 'open-for-writing', detail: 'A001.wav' });
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
    expect(walk.action).toEqual({ do: 'refuse', reason: 'not-media', detail: 'A001.mov: plain text' });
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

  test('it fades when nothing comes', () => {
    const walk = new Walk().seen(0, stat('A001.mov', MB)).seen(1, stat('A001.mov', 11 * MB, 2));
    expect(rateOf(walk.state, 30 * SECOND)).toBeLessThan(0.1 * MB);
  });
});
