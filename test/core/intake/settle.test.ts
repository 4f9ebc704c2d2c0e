import { describe, expect, test } from 'vitest';
import { arrivalOf } from '../../../src/core/intake/settle-state.ts';
import type { Wholeness, Writers } from '../../../src/core/root-port.ts';
import { type Answer, arrived, LIMITS, NEVER, stat, Walk, WHOLE } from './settle-walk.ts';

describe('from first sight to ready', () => {
  test('waits for quiet, then looks, reads and finishes', () => {
    const walk = arrived();
    expect(walk.action).toEqual({ do: 'wait', until: 10.3 });
    expect(arrivalOf(walk.state)).toEqual({ stage: 'settling', reason: 'not-quiet-yet', detail: null });
    walk.wait();
    expect(walk.action).toEqual({ do: 'inspect', generation: 1, paths: ['A001.mov'] });
    expect(walk.now).toBe(10.3);
    walk.answer(WHOLE);
    expect(walk.action).toEqual({ do: 'probe', generation: 1, evidence: 'container-whole' });
    expect(arrivalOf(walk.state)).toEqual({ stage: 'probing', reason: 'being-read', detail: null });
    walk.send({ type: 'probed', generation: 1, outcome: { ok: true } }, 11);
    expect(walk.action).toEqual({ do: 'finish', evidence: 'container-whole' });
    expect(arrivalOf(walk.state)).toEqual({ stage: 'ready', reason: 'complete', detail: null });
    expect(walk.state.wakeAt).toBe(NEVER);
  });

  test('what is no media is finished without a probe', () => {
    const walk = new Walk().seen(0, stat('cut.prproj')).wait();
    walk.answer({ writers: 'none', wholeness: 'no-structure' }, [stat('cut.prproj')]).wait();
    expect(walk.now).toBeCloseTo(2, 5);
    walk.answer({ writers: 'none', wholeness: 'no-structure' }, [stat('cut.prproj')]);
    expect(walk.action).toEqual({ do: 'finish', evidence: 'no-writer' });
  });

  test('the same file seen again does not put the quiet off', () => {
    const walk = arrived().seen(10.2, stat('A001.mov'));
    expect(walk.action).toEqual({ do: 'wait', until: 10.3 });
  });

  test('a change does', () => {
    const walk = arrived().seen(10.2, stat('A001.mov', 200, 2));
    expect(walk.action).toEqual({ do: 'wait', until: 10.5 });
    expect(arrivalOf(walk.state)).toEqual({ stage: 'copying', reason: 'growing', detail: null });
  });
});

describe('when it is complete', () => {
  // [writers, wholeness, seconds of quiet before it is read, on what evidence]
  test.each<[Writers, Wholeness, number, string]>([
    ['none', 'whole', 0.3, 'container-whole'],
    ['none', 'no-structure', 2, 'no-writer'],
    ['unknown', 'whole', 5, 'container-whole'],
    ['unknown', 'no-structure', 30, 'quiet-only'],
  ])('writers %s, content %s: after %d s', (writers, wholeness, quiet, evidence) => {
    const walk = arrived().wait();
    for (let looks = 0; walk.action.do === 'inspect' && looks < 5; looks += 1)
      walk.answer({ writers, wholeness }).wait();
    expect(walk.action).toEqual({ do: 'probe', generation: 1, evidence });
    expect(walk.now).toBeGreaterThanOrEqual(10 + quiet);
    expect(walk.now).toBeLessThan(10 + quiet + 0.1);
  });

  // FAT keeps times to 2 s, ext4 with 128-byte inodes to 1 s: a rewrite within the same stamp shows in none.
  test.each([
    ['whole seconds', 1_800_000_000_000_000_000n, 1_800_000_000_000_000_000n, 2.5],
    ['a kept time of whole seconds, a fine change time', 1_700_000_000_000_000_000n, 1_800_000_000_000_000_001n, 0.3],
  ])('times of %s', (_, mtimeNs, ctimeNs, quiet) => {
    const file = { ...stat('A001.mov'), mtimeNs, ctimeNs };
    const walk = new Walk().seen(10, file).wait();
    for (let looks = 0; walk.action.do === 'inspect' && looks < 5; looks += 1) walk.answer(WHOLE, [file]).wait();
    expect(walk.action).toEqual({ do: 'probe', generation: 1, evidence: 'container-whole' });
    expect(walk.now).toBeGreaterThanOrEqual(10 + quiet);
    expect(walk.now).toBeLessThan(10 + quiet + 0.1);
  });

  test('on a remote mount after twice the longest pause', () => {
    const walk = arrived()
      .seen(19, stat('A001.mov', 200, 2))
      .wait();
    while (walk.action.do === 'inspect')
      walk.answer({ writers: 'unknown', wholeness: 'whole' }, [stat('A001.mov', 200, 2)]).wait();
    expect(walk.now).toBeCloseTo(19 + 18 + 0.02, 2);
  });
});

describe('while it is not', () => {
  test.each<[Writers, Wholeness, string, string]>([
    ['open', 'whole', 'copying', 'open-for-writing'],
    ['open', 'cut', 'copying', 'open-for-writing'],
    ['open', 'empty', 'copying', 'open-for-writing'],
    ['none', 'cut', 'settling', 'incomplete'],
    ['none', 'unwritten', 'settling', 'unwritten'],
    ['none', 'empty', 'settling', 'empty'],
    ['unknown', 'cut', 'settling', 'incomplete'],
    ['unknown', 'not-media', 'settling', 'not-quiet-yet'],
  ])('writers %s, content %s: %s, %s', (writers, wholeness, stage, reason) => {
    const walk = arrived().wait().answer({ writers, wholeness, detail: 'what was found' });
    expect(walk.action.do).toBe('wait');
    expect(arrivalOf(walk.state)).toMatchObject({ stage, reason });
  });

  /** The times between looks at a file that is open, of the answers given by `answerOf`. */
  function pauses(walk: Walk, looks: number, answerOf: (look: number) => Answer): number[] {
    return Array.from({ length: looks }, (_, look) => {
      const before = walk.now;
      const file = answerOf(look).stat;
      walk.answer(answerOf(look), file == null ? [stat('A001.mov')] : [file]).wait();
      return Math.round((walk.now - before) * 10) / 10;
    });
  }
  const OPEN = { writers: 'open', wholeness: 'no-structure' } as const;

  test('a file held open is looked at less and less often, then every minute at a full second; its close is told', () => {
    const walk = arrived().wait();
    expect(pauses(walk, 10, () => OPEN)).toEqual([0.3, 0.5, 1, 2.9, 5, 9, 17, 33, 61, 61]);
    walk.answer(OPEN);
    const told = walk.now + 1;
    walk.seen(told, stat('A001.mov'));
    expect([walk.action.do, walk.now]).toEqual(['inspect', told]);
    walk.answer(WHOLE);
    expect(walk.action.do).toBe('probe');
  });

  test('growth that was seen together with its writer brings no look forward; its close does', () => {
    const walk = arrived().wait();
    pauses(walk, 5, () => OPEN);
    walk.answer(OPEN);
    const due = walk.now + 5;
    const grown = stat('A001.mov', 300, 3);
    walk.seenOpen(walk.now + 1, grown);
    expect(walk.action).toMatchObject({ do: 'wait' });
    expect(walk.state.wakeAt).toBeGreaterThan(due);
    expect(arrivalOf(walk.state)).toMatchObject({ stage: 'copying', reason: 'growing' });
    walk.seen(walk.now + 1, grown);
    expect(walk.action.do).toBe('inspect');
  });

  test('one that grows while it is open as well', () => {
    const walk = arrived().wait();
    const grown = (look: number) => ({ ...OPEN, stat: stat('A001.mov', 200 + look, 2 + look) });
    const all = pauses(walk, 9, grown);
    expect(all.slice(6).every((pause) => pause >= 14)).toBe(true);
    expect(arrivalOf(walk.state)).toMatchObject({ stage: 'copying', reason: 'growing' });
    expect(walk.state.bytes).toBe(208);
  });

  test('told while it is looked at: the look says nothing about what came after, and is made again soon', () => {
    const walk = arrived().wait();
    pauses(walk, 8, () => OPEN);
    const { generation } = walk.state;
    walk.seen(walk.now, stat('A001.mov'));
    const evidence = [{ ...OPEN, path: 'A001.mov', stat: stat('A001.mov'), error: null, detail: null }];
    walk.send({ type: 'evidence', generation, evidence });
    const answeredAt = walk.now;
    expect(walk.wait().action.do).toBe('inspect');
    expect(walk.now - answeredAt).toBeLessThan(0.5);
  });

  test('closed after a last change: quiet first, then looked at', () => {
    const walk = arrived().wait();
    pauses(walk, 8, () => OPEN);
    walk.answer(OPEN);
    const told = walk.now + 1;
    walk.seen(told, stat('A001.mov', 300, 3)).wait();
    expect([walk.action.do, walk.now - told]).toEqual(['inspect', expect.closeTo(LIMITS.quiet)]);
  });

  test('held open and unchanged for ten minutes: stalled, and still looked at', () => {
    const walk = arrived().wait();
    while (walk.action.do === 'inspect') walk.answer({ writers: 'open', wholeness: 'whole' }).wait(700);
    expect(walk.action).toEqual({ do: 'stall', reason: 'open-for-writing', detail: null });
    walk.send({ type: 'tick' }).wait().answer(WHOLE);
    expect(walk.action.do).toBe('probe');
  });

  test('a project file held open all day is taken as it is', () => {
    const file = [stat('cut.prproj')];
    const walk = new Walk().seen(0, ...file).wait();
    while (walk.action.do === 'inspect') walk.answer({ writers: 'open', wholeness: 'no-structure' }, file).wait();
    expect(walk.action).toEqual({ do: 'finish', evidence: 'quiet-only' });
    expect(walk.now).toBeGreaterThan(600);
  });

  test('nobody waits for that: it is looked at seldom', () => {
    const file = [stat('cut.prproj')];
    const walk = new Walk().seen(0, ...file).wait();
    let looks = 0;
    for (; walk.action.do === 'inspect'; looks += 1)
      walk.answer({ writers: 'open', wholeness: 'no-structure' }, file).wait();
    expect(looks).toBeLessThan(180);
  });

  test('a stalled file that is still open is looked at every 15 s, another once a minute', () => {
    for (const [writers, pause] of [
      ['open', 15],
      ['none', 60],
    ] as const) {
      const walk = arrived().wait();
      while (walk.action.do === 'inspect') walk.answer({ writers, wholeness: 'cut' }).wait();
      expect(walk.action.do).toBe('stall');
      expect(walk.state.wakeAt - walk.now).toBe(pause);
    }
  });

  test('a look that failed is repeated, at least every 10 s, and nothing is concluded from it', () => {
    const walk = arrived().wait();
    let looks = 0;
    for (; walk.now < 7200; looks += 1) {
      walk.send({ type: 'evidence', generation: 1, evidence: [] });
      expect(arrivalOf(walk.state)).toEqual({ stage: 'settling', reason: 'not-quiet-yet', detail: null });
      expect(walk.wait().action.do).toBe('inspect');
    }
    expect(looks).toBeGreaterThan(700);
  });
});

describe('refused', () => {
  test('what cannot be read, with the reason of the system; and tried again when it changes', () => {
    const walk = arrived()
      .wait()
      .answer({ ...WHOLE, error: 'EACCES: permission denied' });
    expect(walk.action).toEqual({ do: 'refuse', reason: 'unreadable', detail: 'EACCES: permission denied' });
    expect(walk.seen(20, stat('A001.mov')).action).toEqual({ do: 'wait', until: NEVER });
    walk
      .seen(30, stat('A001.mov', 100, 2))
      .wait()
      .answer(WHOLE, [stat('A001.mov', 100, 2)]);
    expect(walk.action.do).toBe('probe');
  });

  // A twentieth of the time to a stall, 3 to 30 s; on a remote mount at least the quiet asked for there.
  test.each([
    ['none', { stalledAfter: 600 }, 30],
    ['none', { stalledAfter: 200 }, 10],
    ['none', { stalledAfter: 20 }, 3],
    ['none', { stalledAfter: 7200 }, 30],
    ['unknown', { stalledAfter: 200 }, 30],
  ] as const)('empty, writers %s, %j: after %d s', (writers, limits, seconds) => {
    const walk = new Walk(limits).seen(0, stat('A001.mov', 0)).wait();
    while (walk.action.do === 'inspect') walk.answer({ writers, wholeness: 'empty' }, [stat('A001.mov', 0)]).wait();
    expect(walk.action).toMatchObject({ do: 'refuse', reason: 'empty' });
    expect(walk.now).toBeCloseTo(seconds, 1);
  });

  test('on a remote mount a wrong content is given the time of a slow copy', () => {
    const walk = arrived().wait();
    while (walk.action.do === 'inspect') walk.answer({ writers: 'unknown', wholeness: 'not-media' }).wait();
    expect(walk.action).toMatchObject({ do: 'refuse', reason: 'not-media' });
    expect(walk.now).toBeCloseTo(10 + 30, 1);
  });

  test.each(['probe-failed', 'not-media', 'unreadable'] as const)('what the probe gives back as %s', (reason) => {
    const walk = arrived().wait().answer(WHOLE);
    walk.send({ type: 'probed', generation: 1, outcome: { ok: false, reason, detail: 'what was said' } });
    expect(walk.action).toEqual({ do: 'refuse', reason, detail: 'what was said' });
    expect(arrivalOf(walk.state).stage).toBe('refused');
  });
});

describe('changes on the way', () => {
  test('a change during the look makes its answer worthless', () => {
    const walk = arrived().wait();
    const asked = walk.action;
    walk.seen(10.31, stat('A001.mov', 200, 2));
    walk.action = asked;
    walk.answer(WHOLE);
    expect(walk.action).toEqual({ do: 'wait', until: 10.31 + 0.3 });
  });

  test('a change that only the look notices starts the quiet anew', () => {
    const walk = arrived()
      .wait()
      .answer({ ...WHOLE, stat: stat('A001.mov', 200, 2) });
    expect(walk.action).toEqual({ do: 'wait', until: 10.32 + 0.3 });
    expect(walk.state.bytes).toBe(200);
  });

  test('a change during the probe makes its result worthless', () => {
    const walk = arrived()
      .wait()
      .answer(WHOLE)
      .seen(10.4, stat('A001.mov', 200, 2));
    expect(walk.action).toEqual({ do: 'wait', until: NEVER });
    walk.send({ type: 'probed', generation: 1, outcome: { ok: true } }, 10.5);
    expect(walk.action).toEqual({ do: 'wait', until: 10.4 + 0.3 });
  });

  test('a probe that found another file than was asked for is repeated, but not for ever', () => {
    const changed = { ok: false, reason: 'changed-meanwhile', detail: 'the file changed' } as const;
    const walk = arrived().wait().answer(WHOLE);
    let probes = 0;
    while (walk.action.do === 'probe') {
      probes += 1;
      walk.send({ type: 'probed', generation: walk.action.generation, outcome: changed });
      if (probes === 3) break;
      expect(arrivalOf(walk.state).reason).toBe('changed-meanwhile');
      walk.wait().answer(WHOLE);
    }
    expect(probes).toBe(3);
    expect(walk.action).toMatchObject({ do: 'refuse', reason: 'probe-failed' });
  });

  test('a probe without an answer says nothing of the file: it is looked at and read again, for as long as it takes', () => {
    const unanswered = { ok: false, reason: 'not-answered', detail: 'the volume is not there' } as const;
    const walk = arrived().wait().answer(WHOLE);
    for (let probes = 0; probes < 50; probes += 1) {
      const { now } = walk;
      if (walk.action.do !== 'probe') throw new Error(walk.action.do);
      walk.send({ type: 'probed', generation: walk.action.generation, outcome: unanswered });
      expect(arrivalOf(walk.state).stage).toBe('settling');
      walk.wait().answer(WHOLE);
      expect(walk.now - now).toBeGreaterThanOrEqual(Math.min(10, 2 ** probes));
    }
    walk.send({ type: 'probed', generation: walk.state.generation, outcome: { ok: true } });
    expect(walk.action).toEqual({ do: 'finish', evidence: 'container-whole' });
  });

  test('a change after completion opens the unit again', () => {
    const walk = arrived().wait().answer(WHOLE);
    walk.send({ type: 'probed', generation: 1, outcome: { ok: true } }).seen(60, stat('A001.mov', 200, 2));
    expect(arrivalOf(walk.state)).toMatchObject({ stage: 'copying', reason: 'growing' });
    expect(walk.wait().action).toEqual({ do: 'inspect', generation: 2, paths: ['A001.mov'] });
  });

  test('gone: nothing is left to do; a folder takes all below it', () => {
    expect(arrived().send({ type: 'gone', paths: ['A001.mov'] }).action).toEqual({ do: 'forget' });
    const walk = new Walk().seen(0, stat('Day 1/A001.mov'), stat('Day 1/A001.wav'));
    expect(walk.send({ type: 'gone', paths: ['Day 10', 'Day 1/A001'] }).action.do).toBe('wait');
    expect(walk.send({ type: 'gone', paths: ['Day 1'] }).action).toEqual({ do: 'forget' });
    expect(walk.state.bytes).toBe(0);
  });

  test('a look that finds the file gone', () => {
    expect(
      arrived()
        .wait()
        .answer({ ...WHOLE, stat: null }).action,
    ).toEqual({ do: 'forget' });
  });

  test('after a restart nothing is trusted, and nothing asked before is answered', () => {
    const walk = arrived().wait().answer(WHOLE);
    walk.send({ type: 'resumed', files: [stat('A001.mov')] }, 3);
    expect(walk.action).toEqual({ do: 'wait', until: 3.3 });
    walk.send({ type: 'probed', generation: 1, outcome: { ok: true } }, 3.1);
    expect(walk.action).toEqual({ do: 'wait', until: 3.3 });
    expect(walk.wait().action).toMatchObject({ do: 'inspect', paths: ['A001.mov'] });
  });
});
