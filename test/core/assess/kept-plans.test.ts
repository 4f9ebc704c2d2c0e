import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { knownPlans } from '../../../src/core/assess/kept-plans.ts';
import type { ShootPlan } from '../../../src/core/assess/shoot-plan.ts';
import { NOON } from '../samples.ts';

const plan = (days: string[], over: Partial<ShootPlan> = {}): ShootPlan => ({
  ...{ project: 'Lock Keepers', days, cameras: 2, format: 'DNxHR SQ', width: 1920, height: 1080 },
  ...{ frameRate: { num: 25, den: 1 }, hours: 4 },
  ...over,
});
const march = (...days: number[]) => days.map((day) => `2027-03-${String(day).padStart(2, '0')}`);

describe('plans that are kept by command', () => {
  test('count in place of what was said of the project for these days, and leave the days before and after', () => {
    const spring = plan(march(1, 2, 3, 4, 8));
    const autumn = plan(['2027-10-01', '2027-10-02']);
    const other = plan(march(3), { project: 'Saltmarsh' });
    const kept = plan(march(3, 5), { cameras: 3 });
    expect(knownPlans([spring, autumn, other], [{ at: NOON, plan: kept }])).toEqual([
      { ...spring, days: march(1, 2, 8), keptAt: null },
      { ...autumn, keptAt: null },
      { ...other, keptAt: null },
      { ...kept, keptAt: NOON },
    ]);
  });

  test('the one that was kept last counts, whichever way they are listed', () => {
    const first = { at: NOON, plan: plan(march(1, 2)) };
    const last = { at: NOON + 1, plan: plan(march(2, 3), { hours: 9 }) };
    const expected = [
      { ...first.plan, days: march(1), keptAt: NOON },
      { ...last.plan, keptAt: NOON + 1 },
    ];
    expect(knownPlans([], [first, last])).toEqual(expected);
    expect(knownPlans([], [last, first])).toEqual(expected);
  });

  test('no day of a project is planned twice, and none that was said is lost', () => {
    const days = fc.uniqueArray(fc.integer({ min: 1, max: 28 }), { minLength: 1, maxLength: 6 });
    fc.assert(
      fc.property(fc.array(days, { maxLength: 5 }), days, (kept, configured) => {
        const inOrder = (numbers: number[]) => march(...numbers.toSorted((a, b) => a - b));
        const all = knownPlans(
          [plan(inOrder(configured))],
          kept.map((numbers, index) => ({ at: NOON + index, plan: plan(inOrder(numbers)) })),
        ).flatMap((one) => one.days);
        expect(new Set(all).size).toBe(all.length);
        const last = kept.at(-1) ?? configured;
        expect(all).toEqual(expect.arrayContaining(inOrder(last)));
      }),
    );
  });
});
