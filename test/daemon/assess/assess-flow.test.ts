import { describe, expect, test } from 'vitest';
import { sampleArrival } from '../../core/samples.ts';
import { FULL, stage } from './assess-stage.ts';

const SECOND = 1000;
const MINUTE = 60 * SECOND;

describe('the assessment', () => {
  test('while nothing happens it looks every half minute, and no snapshot is made that nobody asks for', async () => {
    const { clock, flow, world } = await stage();
    const before = { ...world };
    await clock.advance(10 * MINUTE);
    expect(world.asked - before.asked).toBe(20);
    expect(world.read - before.read).toBe(20);
    expect(world.made).toBe(before.made);
    expect(flow.current().arrivalTotals).toEqual({ pending: 12_345, bytes: 5 });
    flow.current();
    expect(world.made).toBeLessThanOrEqual(before.made + 2);
  });

  test('while something arrives it looks every five seconds; the sums are read when something changed', async () => {
    const { clock, flow, world } = await stage();
    world.arrivals = [sampleArrival({ stage: 'copying' })];
    flow.touch('stripe', null);
    await clock.advance(SECOND);
    const before = { ...world };
    await clock.advance(MINUTE);
    expect(world.asked - before.asked).toBe(12);
    expect(world.read - before.read).toBeLessThanOrEqual(2);
    flow.touch('stripe', null);
    await clock.advance(251);
    expect(world.noted).toBeGreaterThan(before.noted + 12);
  });

  test('what has halted needs no looks of its own', async () => {
    const { clock, flow, world } = await stage();
    world.arrivals = [sampleArrival({ stage: 'refused' }), sampleArrival({ stage: 'stalled', unit: 'other' })];
    flow.touch('stripe', null);
    await clock.advance(SECOND);
    const before = world.asked;
    await clock.advance(5 * MINUTE);
    expect(world.asked - before).toBe(10);
  });

  test('a hold time ends when it ends, not at the next look', async () => {
    const { announced, clock, world } = await stage();
    world.room = FULL;
    await clock.advance(30 * SECOND);
    expect(announced).toEqual([]);
    await clock.advance(20.5 * SECOND);
    expect(announced).toEqual(['capacity-reserve first']);
  });
});
