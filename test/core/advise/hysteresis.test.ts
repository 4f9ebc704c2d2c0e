import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  type Change,
  CLEAR,
  type HysteresisState,
  isWorse,
  type Sighting,
  step,
} from '../../../src/core/advise/hysteresis.ts';
import { NOON, SECOND } from '../samples.ts';

const HOLDS = { raiseAfter: 20, clearAfter: 60 };

/** Plays `[seconds, sighting]` pairs and returns what changed, when, and the last state. */
function play(sightings: readonly (readonly [number, Sighting])[], holds = HOLDS) {
  const changes: [number, Change][] = [];
  let state: HysteresisState = CLEAR;
  let reason = '';
  for (const [seconds, sighting] of sightings) {
    const done = step(state, sighting, NOON + seconds * SECOND, holds);
    state = done.state;
    reason = done.reason;
    if (done.change !== null) changes.push([seconds, done.change]);
  }
  return { changes, state, reason };
}

describe('raising', () => {
  test('waits until the condition has held', () => {
    const seen = play([
      [0, 'warning'],
      [19.9, 'warning'],
    ]);
    expect(seen).toMatchObject({ changes: [], reason: 'waits-to-raise', state: { phase: 'pending', since: NOON } });
    expect(
      play([
        [0, 'warning'],
        [20, 'warning'],
      ]),
    ).toMatchObject({
      changes: [[20, 'raised']],
      reason: 'held-long-enough',
      state: { phase: 'raised', since: NOON, severity: 'warning' },
    });
  });

  test('starts anew after a break', () => {
    const seen = play([
      [0, 'warning'],
      [10, 'none'],
      [15, 'warning'],
      [34, 'warning'],
      [35, 'warning'],
    ]);
    expect(seen.changes).toEqual([[35, 'raised']]);
    expect(
      play([
        [0, 'warning'],
        [10, 'none'],
      ]).reason,
    ).toBe('gone-before-raised');
    expect(play([[0, 'none']]).reason).toBe('not-seen');
  });

  test('needs no time where none is asked', () => {
    expect(play([[0, 'warning']], { raiseAfter: 0, clearAfter: 0 }).changes).toEqual([[0, 'raised']]);
  });

  test('a clock set back starts the wait anew instead of stretching it', () => {
    const seen = play([
      [0, 'warning'],
      [-3600, 'warning'],
      [-3580, 'warning'],
    ]);
    expect(seen.changes).toEqual([[-3580, 'raised']]);
  });
});

describe('while raised', () => {
  const raised: [number, Sighting][] = [
    [0, 'warning'],
    [20, 'warning'],
  ];

  test('a rising severity counts at once', () => {
    expect(play([...raised, [21, 'critical']]).changes).toEqual([
      [20, 'raised'],
      [21, 'worse'],
    ]);
  });

  test('a falling one after the time to clear', () => {
    const seen = play([...raised, [21, 'critical'], [30, 'warning'], [89, 'warning'], [90, 'warning']]);
    expect(seen.changes).toEqual([
      [20, 'raised'],
      [21, 'worse'],
      [90, 'better'],
    ]);
    expect(seen.state).toMatchObject({ phase: 'raised', severity: 'warning', falling: null });
  });

  test('it clears after the time to clear, and a relapse starts that anew', () => {
    expect(play([...raised, [30, 'none'], [89, 'none'], [90, 'none']]).changes).toEqual([
      [20, 'raised'],
      [90, 'cleared'],
    ]);
    const relapse = play([...raised, [30, 'none'], [80, 'warning'], [81, 'none'], [140, 'none']]);
    expect(relapse).toMatchObject({ changes: [[20, 'raised']], reason: 'waits-to-fall' });
  });

  test('it falls no further than to the worst seen on the way', () => {
    const seen = play([
      ...raised,
      [21, 'critical'],
      [30, 'warning'],
      [40, 'none'],
      [90, 'none'],
      [149, 'none'],
      [150, 'none'],
    ]);
    expect(seen.changes).toEqual([
      [20, 'raised'],
      [21, 'worse'],
      [90, 'better'],
      [150, 'cleared'],
    ]);
  });

  test('what cannot be judged is held, and no waiting time goes on meanwhile', () => {
    const seen = play([...raised, [30, 'none'], [60, 'held'], [91, 'none'], [150, 'none']]);
    expect(seen.changes).toEqual([[20, 'raised']]);
    expect(play([...raised, [30, 'held']])).toMatchObject({ reason: 'nothing-concluded', state: { phase: 'raised' } });
    expect(
      play([
        [0, 'warning'],
        [10, 'held'],
        [25, 'warning'],
      ]).changes,
    ).toEqual([]);
  });
});

test('severities are ordered', () => {
  expect(isWorse('critical', 'warning')).toBe(true);
  expect(isWorse('warning', 'notice')).toBe(true);
  expect(isWorse('notice', 'none')).toBe(true);
  expect(isWorse('warning', 'warning')).toBe(false);
});

describe('for any sightings', () => {
  const sighting = fc.constantFrom<Sighting>('none', 'notice', 'warning', 'critical', 'held');
  const steps = fc.array(fc.tuple(fc.integer({ min: 1, max: 90 }), sighting), { maxLength: 60 });

  test('raised and cleared alternate, and each is as far from the one before as its hold time', () => {
    fc.assert(
      fc.property(steps, (pauses) => {
        let at = 0;
        const sightings = pauses.map(([pause, seen]) => {
          at += pause;
          return [at, seen] as const;
        });
        const { changes } = play(sightings);
        const ends = changes.filter(([, change]) => change === 'raised' || change === 'cleared');
        ends.forEach(([seconds, change], index) => {
          expect(change).toBe(index % 2 === 0 ? 'raised' : 'cleared');
          const before = ends[index - 1]?.[0] ?? 0;
          expect(seconds - before).toBeGreaterThanOrEqual(change === 'raised' ? HOLDS.raiseAfter : HOLDS.clearAfter);
        });
      }),
    );
  });

  test('a state written as JSON and read back goes on the same', () => {
    fc.assert(
      fc.property(steps, fc.nat(60), (pauses, cut) => {
        let at = 0;
        let kept: HysteresisState = CLEAR;
        let reread: HysteresisState = CLEAR;
        pauses.forEach(([pause, seen], index) => {
          at += pause;
          kept = step(kept, seen, NOON + at * SECOND, HOLDS).state;
          reread = step(reread, seen, NOON + at * SECOND, HOLDS).state;
          if (index === cut) reread = JSON.parse(JSON.stringify(reread));
        });
        expect(reread).toEqual(kept);
      }),
    );
  });
});
