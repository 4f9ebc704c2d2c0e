import { performance } from 'node:perf_hooks';
import { generator } from '../../core/assess/noisy-day.ts';
import { type Figure, median } from '../figure.ts';
import { lastDayLine, type Origin, ours, scoreOf, type Teller, truthOf } from './backtest.ts';
import { type History, simulatedHistory } from './simulated-shoots.ts';

/** Not those that any parameter was looked at with. */
const SEEDS = Array.from({ length: 60 }, (_, index) => 1001 + index);
const LINE = 0.9;
const UNDECLARED = 0.12;

/** Asked at any hour, every third day. */
function originsOf(history: History, seed: number): Origin[] {
  const random = generator(seed);
  const origins: Origin[] = [];
  for (let day = 50; day < 210; day += 3) {
    const hour = day * 24 + Math.floor(random() * 24);
    const roomBytes = LINE * history.capacityBytes - (history.used[hour] ?? 0);
    if (roomBytes > 0) origins.push({ history, hour, roomBytes, truth: truthOf(history.hours, hour, roomBytes) });
  }
  return origins;
}

/** Dates of the overrun on simulated shoots. Whoever wrote the model wrote these, too: the real histories weigh more. */
export function measureDates(): Figure[] {
  const origins = SEEDS.flatMap((seed) => originsOf(simulatedHistory(seed, UNDECLARED), seed));
  return [
    ...datesFigures('simulated shoots (ours, which flatters us), plan declared', origins, ours(true), 0.35),
    ...datesFigures('simulated shoots (ours, which flatters us), without a plan', origins, ours(false), 0.55),
    costFigure(origins),
  ];
}

export function datesFigures(what: string, origins: readonly Origin[], teller: Teller, most: number): Figure[] {
  const both = origins.filter((origin) => teller(origin) !== null);
  const score = scoreOf(both, teller);
  const line = scoreOf(both, lastDayLine);
  const ratio = score.pinball / line.pinball;
  return [
    {
      name: `${what}: pinball loss .1/.5/.9 of the date, ${both.length} of ${origins.length} origins (of the others nothing is told)`,
      ...{ value: score.pinball, unit: 'days', peer: { name: 'line through the last 24 h', value: line.pinball } },
      ...{ goal: `<= ${most} x`, holds: ratio <= most },
    },
    {
      name: `${what}: 80 % interval covers`,
      ...{ value: 100 * score.covered, unit: '%', peer: null, goal: '75 to 92 %' },
      holds: score.covered >= 0.75 && score.covered <= 0.92,
    },
    {
      name: `${what}: truth before the 10 % date`,
      ...{ value: 100 * score.before10, unit: '%', peer: { name: 'line', value: 100 * line.before10 } },
      ...{ goal: '<= 12 %', holds: score.before10 <= 0.12 },
    },
  ];
}

function costFigure(origins: readonly Origin[]): Figure {
  const teller = ours(true);
  const each = origins.slice(0, 400).map((origin) => {
    const began = performance.now();
    teller(origin);
    return performance.now() - began;
  });
  const value = median(each);
  return { name: 'one forecast', value, unit: 'ms', peer: null, goal: '<= 5 ms', holds: value <= 5 };
}
