import { arrivalOf } from '../../../src/core/intake/settle-state.ts';
import type { Writers } from '../../../src/core/root-port.ts';
import { stat, Walk } from '../../core/intake/settle-walk.ts';
import { sampleArrival } from '../../core/samples.ts';
import type { History } from '../forecast/simulated-shoots.ts';
import type { Dice } from './dice.ts';
import { HOUR, MINUTE, type Trouble } from './kinds.ts';
import { agenda, type Part } from './part.ts';

const NAME = 'A001.mov';
/** Somebody sees that it is broken, and copies it anew. */
const MENDED_SECONDS = 2 * 3600;
/** When an arrival stalls, the most that it is seen to do otherwise. */
type Line = { second: number; stage: ReturnType<typeof arrivalOf>['stage'] };

/** Copies that pause, and some that break off, decided on by `settle` as in earnest. The plain threshold: short, and no growth for a minute. */
export function arrivalPart({ hours }: History, dice: Dice): Part {
  const changes = agenda();
  const broken: Trouble[] = [];
  const arrivals = new Map<string, ReturnType<typeof sampleArrival>>();
  let count = 0;
  for (const [hour, { ingestBytes }] of hours.entries()) {
    if (ingestBytes > 0 && dice.happens(0.25)) copy(hour * HOUR + Math.round(dice.between(0, 50)) * MINUTE);
  }

  function copy(at: number): void {
    const path = `Saltmarsh/Day/clip-${++count}.mov`;
    const subject = `stripe/${path}`;
    const writers: Writers = (['open', 'none', 'unknown'] as const)[Math.floor(dice.uniform() * 3)] ?? 'none';
    const isBroken = dice.happens(0.1);
    const pause = isBroken ? null : Math.max(2, dice.about(90, 1));
    const lines = watched(isBroken && writers === 'open' ? 'none' : writers, pause);
    const gone = at + (pause ?? MENDED_SECONDS) * 1000 + MINUTE;
    for (const { second, stage } of lines)
      changes.add({
        at: at + second * 1000,
        run: () =>
          void arrivals.set(subject, sampleArrival({ path, unit: path, stage, reason: 'incomplete', since: at })),
      });
    const short = pause ?? MENDED_SECONDS;
    if (short > 60)
      changes.add(
        { at: at + MINUTE, run: (naive) => naive.tell('arrival-stalled', subject, true, at + MINUTE) },
        { at: gone - MINUTE, run: (naive) => naive.tell('arrival-stalled', subject, false, gone - MINUTE) },
      );
    if (pause === null) broken.push({ subject, at: at + HOUR, until: at + HOUR });
    changes.add({ at: gone, run: () => void arrivals.delete(subject) });
  }

  return {
    step: (now, naive) => changes.run(now, naive),
    show(scene) {
      scene.arrivals.push(...arrivals.values());
    },
    next: changes.next,
    troubles: { 'arrival-stalled': broken },
  };
}

/** How an arrival is seen that stops half way for so many seconds (`null`: for good). `writers`: what is seen of who writes it. */
function watched(writers: Writers, pause: number | null): Line[] {
  const walk = new Walk().seen(0, stat(NAME, 50, 1));
  const lines: Line[] = [{ second: 0, stage: arrivalOf(walk.state).stage }];
  const note = () => {
    const { stage } = arrivalOf(walk.state);
    if (lines.at(-1)?.stage !== stage) lines.push({ second: walk.now, stage });
  };
  const until = pause ?? MENDED_SECONDS;
  while (walk.now < until) {
    const before = walk.now;
    walk.wait(until);
    if (walk.action.do === 'inspect') walk.answer({ writers, wholeness: 'cut' }, [stat(NAME, 50, 1)]);
    else if (walk.state.wakeAt <= until) walk.send({ type: 'tick' }, walk.state.wakeAt);
    else break;
    note();
    if (walk.now < before) break;
  }
  if (pause !== null) {
    walk.seen(pause, stat(NAME, 100, 2));
    note();
  }
  return lines;
}
