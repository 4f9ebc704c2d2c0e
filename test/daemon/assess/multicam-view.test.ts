import { describe, expect, test } from 'vitest';
import type { MulticamGroup } from '../../../src/core/assess/assessment.ts';
import { NO_SIGNS } from '../../../src/core/assess/project-signs.ts';
import type { MulticamPort } from '../../../src/core/multicam-port.ts';
import { createMulticamView } from '../../../src/daemon/assess/multicam-view.ts';
import { fakeClock } from '../../fakes/clock.ts';

const log = { debug() {}, info() {}, warn() {}, error() {} };
const group = (angles: number) => ({ angles }) as MulticamGroup;

/** A search whose every step takes so many seconds. */
function slowSearch(steps: number, seconds: number) {
  const clock = fakeClock(0);
  let left = steps;
  const asked: string[] = [];
  let fails = false;
  const multicam: MulticamPort = {
    async step(_volume, project, known) {
      asked.push(`${project}${known ? ' known' : ''}`);
      if (fails) throw new Error('the state disk is full');
      if (seconds > 0) await new Promise<void>((resolve) => clock.after(seconds * 1000, resolve));
      left -= 1;
      if (left > 0) return { step: 'more', groups: [], signs: null };
      left = steps;
      return { step: 'found', groups: [group(asked.length)], signs: NO_SIGNS };
    },
  };
  return {
    asked,
    clock,
    setFailing: (now: boolean) => {
      fails = now;
    },
    view: createMulticamView({ multicam, clock, log }),
  };
}

describe('multicam groups', () => {
  test('are not known before the first search, and asking begins it', async () => {
    const { view, asked } = slowSearch(3, 0);
    expect(view.groups('stripe', 'Saltmarsh')).toBeNull();
    expect(view.isBehind()).toBe(true);
    await view.search();
    expect(view.groups('stripe', 'Saltmarsh')).toEqual([group(3)]);
    expect(view.isBehind()).toBe(false);
    await view.search();
    expect(asked.length).toBe(3);
  });

  test('a long search is made again only after twenty times as long; meanwhile the earlier groups are told', async () => {
    const { view, asked, clock } = slowSearch(2, 1);
    view.touch('stripe', 'Saltmarsh');
    const first = view.search();
    await clock.advance(2_000);
    await first;
    view.touch('stripe', 'Saltmarsh');
    await clock.advance(39_000);
    await view.search();
    expect(asked.length).toBe(2);
    expect(view.groups('stripe', 'Saltmarsh')).toEqual([group(2)]);
    expect(view.isBehind()).toBe(true);
    await clock.advance(1_000);
    const second = view.search();
    await clock.advance(2_000);
    await second;
    expect(asked).toEqual(['Saltmarsh', 'Saltmarsh', 'Saltmarsh known', 'Saltmarsh known']);
    expect(view.groups('stripe', 'Saltmarsh')).toEqual([group(4)]);
  });

  test('what changes while it is searched is searched once more', async () => {
    const { view, clock, asked } = slowSearch(2, 1);
    view.touch('stripe', 'Saltmarsh');
    const first = view.search();
    await clock.advance(1_500);
    view.touch('stripe', 'Saltmarsh');
    await clock.advance(2_000);
    await first;
    expect(view.isBehind()).toBe(true);
    await clock.advance(60_000);
    const second = view.search();
    await clock.advance(2_000);
    await second;
    expect([asked.length, view.isBehind()]).toEqual([4, false]);
  });

  test('a search that fails is tried again, and what was known stays', async () => {
    const { view, clock, setFailing } = slowSearch(1, 0);
    view.touch('stripe', 'Saltmarsh');
    await view.search();
    setFailing(true);
    view.touch('stripe', 'Saltmarsh');
    await view.search();
    expect(view.groups('stripe', 'Saltmarsh')).toEqual([group(1)]);
    setFailing(false);
    await clock.advance(5_000);
    await view.search();
    expect(view.groups('stripe', 'Saltmarsh')).toEqual([group(3)]);
  });
});
