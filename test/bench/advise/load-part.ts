import { NOTHING_WATCHED, watchLoad } from '../../../src/core/assess/load-watch.ts';
import { noisyDay, STEP } from '../../core/assess/noisy-day.ts';
import type { Dice } from './dice.ts';
import { DAY, HOUR, type Trouble } from './kinds.ts';
import { agenda, type Part } from './part.ts';

const BEGINS = 10 * HOUR;
/** After work nothing goes on for a while. */
const QUIET_STEPS = 60;

/** Days of editing: on most of them nothing is ever too much, on some once or twice. The plain threshold is three quarters, at each look. */
export function loadPart(seed: number, days: number, dice: Dice): Part {
  const changes = agenda();
  const spells: Trouble[] = [];
  let load = { share: 0.1, isHigh: false, readBps: 40e6, writeBps: 2e6, ownReadBps: 0 };
  const keep = (now: typeof load) => {
    load = now;
  };
  for (let day = 0; day < days; day++) {
    if (day % 7 >= 5) continue;
    const hours = [1.2, 3.6, 6.1].filter(() => dice.happens(0.12));
    changes.add({ at: day * DAY + BEGINS, run: (naive) => play(day, hours, naive) });
  }
  function play(day: number, hours: number[], naive: Parameters<Part['step']>[1]): void {
    const begin = day * DAY + BEGINS;
    const { shares, spells: today } = noisyDay(seed * 1_000 + day, hours);
    spells.push(
      ...today.map(({ from, to }) => ({ subject: 'stripe', at: begin + from * 1000, until: begin + to * 1000 })),
    );
    let watch = NOTHING_WATCHED;
    for (const [index, share] of [...shares, ...Array<number>(QUIET_STEPS).fill(0.1)].entries()) {
      const at = begin + (index + 1) * STEP * 1000;
      naive.tell('volume-busy', 'stripe', share > 0.75, at);
      const { isHigh } = watch;
      watch = watchLoad(watch, share, STEP);
      if (watch.isHigh === isHigh) continue;
      const now = { ...load, share: watch.load ?? 0, isHigh: watch.isHigh };
      changes.add({ at, run: () => keep(now) });
    }
  }
  return {
    step: (now, naive) => changes.run(now, naive),
    show(scene) {
      scene.volume.load = load;
    },
    next: changes.next,
    troubles: { 'volume-busy': spells },
  };
}
