import { describe, expect, test } from 'vitest';
import { keptOf, ratioOf } from '../../../src/core/forecast/plan-model.ts';
import { type PlannedShoot, planAhead } from '../../../src/core/forecast/planned.ts';

const TB = 1e12;
/** Day 0 of the shoot begins at hour 2400. */
const START = 2400;
const shoot = (days: number, first = 0): PlannedShoot => ({
  project: 'Lock Keepers',
  days: Array.from({ length: days }, (_, day) => ({
    fromHour: START + 24 * (first + day),
    toHour: START + 24 * (first + day + 1),
    bytes: TB,
  })),
});
const cameAt = (days: Record<number, number>) => (from: number, to: number) =>
  Object.entries(days).reduce((sum, [day, bytes]) => {
    const noon = START + 24 * Number(day) + 12;
    return noon >= from && noon < to ? sum + bytes : sum;
  }, 0);

describe('what a plan says of the days to come', () => {
  test('lies on the days of 24 hours from now on in which the planned day has its middle', () => {
    const { model } = planAhead([shoot(3)], cameAt({}), START - 36);
    // Noons of the planned days are in 48, 72 and 96 hours.
    expect([...model.days]).toEqual([
      [2, TB],
      [3, TB],
      [4, TB],
    ]);
    expect(model).toMatchObject({ ratios: [], kept: 0, missed: 0 });
  });

  test('a day that has begun brings what has not come yet', () => {
    const { model } = planAhead([shoot(2)], cameAt({ 0: 0.7 * TB }), START + 15);
    // The noon of the next one is less than 24 hours away, too.
    expect(model.days.get(0)).toBeCloseTo(1.3 * TB, -3);
    expect(planAhead([shoot(1)], cameAt({ 0: 1.7 * TB }), START + 15).model.days.get(0)).toBe(0);
  });

  test('is learnt from: what came against what was planned, and on how many days', () => {
    const { model } = planAhead([shoot(6)], cameAt({ 0: 1.5 * TB, 1: 2 * TB, 3: 1.5 * TB }), START + 24 * 4 + 1);
    expect(model).toMatchObject({ ratios: [1.5, 2, 1.5], kept: 3, missed: 1 });
    expect(keptOf(model)).toEqual({ a: 10, b: 1.5 });
    // Normal prior of deviation .4 around no change, three days of deviation .4: their sum by four.
    expect(ratioOf(model).mean).toBeCloseTo((2 * Math.log(1.5) + Math.log(2)) / 4, 9);
    expect(ratioOf(model).sd).toBeCloseTo(0.2, 9);
  });

  test('ends with two days in a row on which nothing came, and is asked about', () => {
    const asked = (came: Record<number, number>, now = START + 49) => planAhead([shoot(6)], cameAt(came), now);
    expect(asked({}).notHappening).toEqual(['Lock Keepers']);
    expect(asked({}).model.days.size).toBe(0);
    expect(asked({ 1: TB }).notHappening).toEqual([]);
    expect(asked({ 0: TB }).notHappening).toEqual([]);
    // Of a plan that is over nobody is asked.
    expect(asked({}, START + 24 * 7).notHappening).toEqual([]);
  });

  test('of two shoots on one day both come', () => {
    const { model } = planAhead([shoot(1), { ...shoot(1), project: 'Saltmarsh' }], cameAt({}), START - 12);
    expect([...model.days]).toEqual([[1, 2 * TB]]);
  });
});
