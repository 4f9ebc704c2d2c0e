import { expect, test } from 'vitest';
import { HOUR_MS } from '../../../src/core/forecast/growth.ts';
import { createForecastView, type ForecastFor } from '../../../src/daemon/assess/forecast-view.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';

const H = 500_000;
const TB = 1e12;
const hours = Array.from({ length: 20 }, (_, day) => ({
  hour: H - 24 * day - 3,
  ingestBytes: 0.4 * TB,
  otherBytes: 0,
  deletedBytes: 0,
}));
const asked: ForecastFor = {
  ...{ volume: 'stripe', at: H * HOUR_MS, growth: { hours, version: 1 }, planned: [] },
  capacity: {
    space: { totalBytes: 24 * TB, freeBytes: 8 * TB, availableBytes: 8 * TB },
    reserveBytes: 2 * TB,
    roomBytes: 6 * TB,
  },
};

test('is made anew only when something that it rests on is another', () => {
  let made = 0;
  const view = createForecastView((seed) => {
    made += 1;
    return seededDraws(seed);
  });
  const first = view.of(asked);
  expect(first).toMatchObject({ basis: 'shoot-days-seen', shootDays: 20, planned: false, withoutPlan: null });
  expect(view.of({ ...asked, at: asked.at + 60_000 })).toBe(first);
  expect(view.of({ ...asked, capacity: { ...asked.capacity, roomBytes: 6 * TB + 1e6 } })).toBe(first);
  expect(made).toBe(1);
  const others: Partial<ForecastFor>[] = [
    { at: asked.at + HOUR_MS },
    { growth: { hours, version: 2 } },
    { capacity: { ...asked.capacity, roomBytes: 5.9 * TB } },
  ];
  for (const other of others) expect(view.of({ ...asked, ...other })).not.toBe(first);
  expect(made).toBe(4);
  // The same again is the same to the last digit: dates do not flicker.
  expect(view.of(asked)).toEqual(first);
  expect(view.of({ ...asked, volume: 'shelf-a' })).not.toEqual(first);
});

test('with a plan both dates are told, and with one that does not happen the plain one', () => {
  const view = createForecastView(seededDraws);
  const days = [0, 1, 2, 3].map((day) => ({ fromHour: H + 24 * day + 6, toHour: H + 24 * day + 30, bytes: 2 * TB }));
  const planned = view.of({ ...asked, planned: [{ project: 'Lock Keepers', days }] });
  expect(planned.planned).toBe(true);
  expect(planned.reserve?.at50).toBeLessThan(planned.withoutPlan?.at50 ?? 0);
  const quiet = { hours: hours.map((one) => ({ ...one, hour: one.hour - 24 * 4 })), version: 5 };
  const past = [-3, -2, 1].map((day) => ({ fromHour: H + 24 * day, toHour: H + 24 * day + 24, bytes: 2 * TB }));
  const off = view.of({ ...asked, growth: quiet, planned: [{ project: 'Lock Keepers', days: past }] });
  expect(off).toMatchObject({ planned: false, withoutPlan: null, notHappening: ['Lock Keepers'] });
});

test('the chance that a shoot fits falls with what it brings, and is not told of one that is past or too far ahead', () => {
  const view = createForecastView(seededDraws);
  const shoot = (bytes: number, from = 6) => {
    const days = [0, 1, 2].map((day) => ({ fromHour: H + 24 * day + from, toHour: H + 24 * day + from + 24, bytes }));
    const chance = view.chanceToFit({ ...asked, planned: [{ project: 'Lock Keepers', days }] }, H + 72 + from);
    return chance;
  };
  expect(shoot(0.2 * TB)).toBeGreaterThan(0.95);
  expect(shoot(4 * TB)).toBeLessThan(0.3);
  const some = shoot(2 * TB) ?? Number.NaN;
  expect(some).toBeGreaterThan(shoot(3 * TB) ?? 1);
  expect(some).toBeLessThan(shoot(1 * TB) ?? 0);
  expect([shoot(TB, -400), shoot(TB, 24 * 60)]).toEqual([null, null]);
  const nothing = { ...asked, growth: { hours: [], version: 9 } };
  expect(view.chanceToFit(nothing, H + 72)).toBeNull();
});
