import { describe, expect, test } from 'vitest';
import type { MulticamGroup } from '../../../src/core/assess/assessment.ts';
import { NO_SIGNS } from '../../../src/core/assess/project-signs.ts';
import type { MulticamPort, SearchAnswer } from '../../../src/core/multicam-port.ts';
import { createMulticamView } from '../../../src/daemon/assess/multicam-view.ts';
import { fakeClock } from '../../fakes/clock.ts';

const log = { debug() {}, info() {}, warn() {}, error() {} };
const group = (angles: number) => ({ angles }) as MulticamGroup;

const told = (session: number, angles: number) => ({ session, groups: angles === 0 ? [] : [group(angles)] });
const NOTHING: SearchAnswer = { step: 'more', sessions: [], gone: [], anew: false, signs: null };

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
      if (left > 0) return { ...NOTHING, step: 'more' };
      left = steps;
      return { ...NOTHING, step: 'found', sessions: [told(1, asked.length)], signs: NO_SIGNS };
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
    expect(asked).toEqual(['Saltmarsh', 'Saltmarsh known', 'Saltmarsh known', 'Saltmarsh known']);
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

  test('what is told in parts counts when all is told; what fails between two parts is asked for anew', async () => {
    const clock = fakeClock(0);
    const asked: boolean[] = [];
    const answers: (SearchAnswer | Error)[] = [];
    const multicam: MulticamPort = {
      async step(_volume, _project, known) {
        asked.push(known);
        const answer = answers.shift();
        if (answer === undefined || answer instanceof Error) throw answer;
        return answer;
      },
    };
    const view = createMulticamView({ multicam, clock, log });
    const search = async (...next: (SearchAnswer | Error)[]) => {
      answers.push(...next);
      view.touch('stripe', 'Saltmarsh');
      await clock.advance(5_000);
      await view.search();
      return view.groups('stripe', 'Saltmarsh')?.map(({ angles }) => angles);
    };
    const end: SearchAnswer = { ...NOTHING, step: 'found', signs: NO_SIGNS };
    const part: SearchAnswer = { ...NOTHING, step: 'part', anew: true, sessions: [told(1, 5), told(2, 4)] };
    expect(await search(part, { ...NOTHING, step: 'groups', sessions: [told(3, 3)] }, end)).toEqual([5, 4, 3]);
    // One is another, one has no groups any more, one is gone, one is new.
    const change = { sessions: [told(1, 7), told(2, 0), told(4, 2)], gone: [3] };
    expect(await search({ ...NOTHING, step: 'groups', ...change }, end)).toEqual([7, 2]);
    expect(await search({ ...part, anew: false }, new Error('the state disk is full'))).toEqual([7, 2]);
    expect(await search({ ...NOTHING, step: 'groups', anew: true, sessions: [told(9, 6)] }, end)).toEqual([6]);
    expect(asked).toEqual([false, true, true, true, true, true, true, false, true]);
  });
});
