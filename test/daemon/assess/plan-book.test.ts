import { expect, test } from 'vitest';
import { createPlanBook } from '../../../src/daemon/assess/plan-book.ts';
import type { PlanSettings } from '../../../src/settings/full-settings.ts';
import { fakeLedger } from '../../fakes/ledger.ts';

const PLAN: PlanSettings = {
  ...{ project: 'Lock Keepers', days: ['2027-03-04'], cameras: 2, format: 'DNxHR SQ', width: 1920, height: 1080 },
  ...{ frameRate: { num: 25, den: 1 }, hours: 2 },
};

test('what was kept is there at the next start, until it is dropped; the configuration stays', async () => {
  const ledger = fakeLedger();
  const clock = { now: () => 7_000 };
  const book = createPlanBook([PLAN], ledger, clock);
  await book.load();
  expect(book.all()).toEqual([{ ...PLAN, keptAt: null }]);
  await book.keep({ ...PLAN, hours: 9 });
  const kept = [{ ...PLAN, hours: 9, keptAt: 7_000 }];
  expect(book.all()).toEqual(kept);

  const next = createPlanBook([PLAN], ledger, clock);
  await next.load();
  expect(next.all()).toEqual(kept);
  expect(await next.drop('Saltmarsh')).toBe(0);
  expect(await next.drop('Lock Keepers')).toBe(1);
  expect(next.all()).toEqual([{ ...PLAN, keptAt: null }]);
});
