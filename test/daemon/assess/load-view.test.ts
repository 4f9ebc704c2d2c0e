import { describe, expect, test } from 'vitest';
import type { VolumeCounters } from '../../../src/core/assess/disk-load.ts';
import { createLoadView, type LoadDeps } from '../../../src/daemon/assess/load-view.ts';
import { sampleGives } from '../../core/samples.ts';
import { fakeClock } from '../../fakes/clock.ts';

const MB = 1e6;
const NOON = 1_804_161_600_000;
const quiet = { debug() {}, info() {}, warn() {}, error() {} };

/** A volume that gives 1,000 MB/s, and does what `rates` say, MB/s. */
function stage(over: Partial<LoadDeps> = {}) {
  const clock = fakeClock(NOON);
  const kept = new Map<string, string>();
  const rates = { read: 0, write: 0, queue: 1, told: true };
  const changes: number[] = [];
  const moved = { readBytes: 0, writtenBytes: 0, busyMs: 0, queuedMs: 0 };
  function counters(): VolumeCounters | null {
    if (!rates.told) return null;
    moved.readBytes += rates.read * MB * 10;
    moved.writtenBytes += rates.write * MB * 10;
    moved.busyMs += 10_000;
    moved.queuedMs += 10_000 * rates.queue;
    const { readBytes, writtenBytes, ...drive } = moved;
    const own = { readBytes: 0, writtenBytes: 0 };
    return { atMs: clock.ticks(), readBytes, writtenBytes, drives: [{ ...drive }], own };
  }
  const deps: LoadDeps = {
    volumes: ['stripe'],
    load: { counters: () => new Map([['stripe', counters()]]), beingRead: async () => new Map() },
    catalogue: {
      recall: async (key) => kept.get(key) ?? null,
      remember: async (key, text) => void kept.set(key, text),
    },
    clock,
    log: quiet,
    gives: () => sampleGives(1000 * MB, { drive: 'ssd' }),
    build: () => '0 4 ssd',
    changed: () => changes.push(clock.ticks()),
    ...over,
  };
  return { clock, rates, changes, kept, deps, view: createLoadView(deps) };
}

describe('the load of a volume', () => {
  test('is looked at every ten seconds; too much of it for three minutes is news, and so is its end', async () => {
    const { clock, rates, changes, view } = stage();
    await view.start();
    expect(view.of('stripe').sample).toBeNull();
    rates.read = 500;
    rates.write = 400;
    await clock.advance(60_000);
    expect(view.of('stripe').sample).toMatchObject({ seconds: 10, readBps: 500 * MB, writeBps: 400 * MB });
    expect(view.of('stripe').watch.isHigh).toBe(false);
    await clock.advance(120_000);
    expect(view.of('stripe').watch).toMatchObject({ isHigh: true, load: expect.closeTo(0.9, 3) });
    rates.read = rates.write = 0;
    await clock.advance(300_000);
    expect(changes).toHaveLength(2);
    view.forgetLately('stripe');
    view.forgetLately('another');
    expect(view.of('stripe')).toMatchObject({ sample: null, watch: { load: null, isHigh: false } });
    view.stop();
    await clock.advance(60_000);
    expect(changes).toHaveLength(2);
  });

  test('its peaks are kept over a restart, and forgotten when it is put together otherwise', async () => {
    const { clock, rates, kept, deps, view } = stage();
    await view.start();
    rates.read = 880;
    rates.queue = 12;
    await clock.advance(30_000);
    const peak = { bps: 880 * MB, source: 'saturated' };
    expect(view.of('stripe').seen.read).toEqual([expect.objectContaining(peak)]);
    view.stop();
    expect([...kept.keys()]).toEqual(['peaks:stripe']);

    const next = createLoadView(deps);
    await next.start();
    expect(next.of('stripe').seen.read).toEqual([expect.objectContaining(peak)]);
    next.stop();

    let build = '0 5 ssd';
    const rebuilt = createLoadView({ ...deps, build: () => build });
    await rebuilt.start();
    expect(rebuilt.of('stripe').seen.read).toEqual([]);
    rates.read = 300;
    await clock.advance(20_000);
    expect(rebuilt.of('stripe').seen.read).toHaveLength(1);
    build = '0 6 ssd';
    rates.read = 0;
    await clock.advance(10_000);
    expect(rebuilt.of('stripe').seen.read).toEqual([]);
    rebuilt.stop();
  });

  test('of a volume without drives nothing is told, and what was kept badly is not used', async () => {
    const { clock, rates, kept, view } = stage();
    kept.set('peaks:stripe', '{');
    rates.told = false;
    await view.start();
    await clock.advance(60_000);
    expect(view.of('stripe')).toMatchObject({ sample: null, seen: { read: [], write: [] } });
    expect(view.of('another').sample).toBeNull();
    view.stop();
  });

  test('what cannot be kept is learnt all the same; without a known speed nothing is too much', async () => {
    const { clock, rates, changes, view } = stage({
      catalogue: {
        recall: () => Promise.reject(new Error('no')),
        remember: () => Promise.reject(new Error('full')),
      },
      gives: () => null,
    });
    await view.start();
    rates.write = 5000;
    await clock.advance(600_000);
    expect(view.of('stripe').seen.write).toHaveLength(1);
    expect(changes).toEqual([]);
    view.stop();
  });
});
