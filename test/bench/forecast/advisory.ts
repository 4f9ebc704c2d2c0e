import { forecastOverrun } from '../../../src/core/forecast/overrun.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import type { Figure } from '../figure.ts';
import { planAt } from './backtest.ts';
import { type History, simulatedHistory } from './simulated-shoots.ts';

const SEEDS = Array.from({ length: 16 }, (_, index) => 2001 + index);
/** So much larger, a volume fills about twice a year. */
const LARGER = 3.5;
const LARGE_DAYS = 560;
const FIRST_DAY = 50;
const LINE = 0.9;
/** As the daemon does: raised above one chance, cleared below the other. */
const RAISE = 0.5;
const CLEAR = 0.05;
const EVERY_HOURS = 2;
/** An advisory that comes later than this before the overrun has missed it. */
const IN_TIME_HOURS = 24;

interface Told {
  raises: number;
  forNothing: number;
  overruns: number;
  missed: number;
  days: number;
}

type Chance = (history: History, hour: number, roomBytes: number) => number;

/** The chance that the line is crossed within three days, by the model with its plan. */
const ours: Chance = (history, hour, roomBytes) => {
  const hours = history.hours.slice(Math.max(0, hour - 24 * 120), hour + 1);
  const { crossings } = forecastOverrun({
    ...{ hours, nowHour: hour, capacityBytes: history.capacityBytes, roomBytes: [roomBytes], draws: seededDraws(0.5) },
    plan: planAt(history, hour),
  });
  return crossings?.[0]?.within72h ?? 0;
};

/** A line through the last 24 hours crosses within three days, and has done so for six hours. */
const lineHeld: Chance = ({ hours }, hour, roomBytes) => {
  for (let held = 0; held < 6; held++) {
    let came = 0;
    for (let at = hour - held - 23; at <= hour - held; at++)
      came += (hours[at]?.ingestBytes ?? 0) + (hours[at]?.otherBytes ?? 0);
    if (!(came > 0 && roomBytes / came <= 3)) return 0;
  }
  return 1;
};

/** The advisory three days ahead, over months, hour by hour. */
export function measureAdvisory(): Figure[] {
  const usual = (undeclared: number) => SEEDS.map((seed) => simulatedHistory(seed, undeclared));
  const large = SEEDS.slice(0, 6).map((seed) => simulatedHistory(seed, 0, LARGE_DAYS, LARGER));
  return [
    ...figuresOf('every shoot declared', usual(0), true),
    ...figuresOf('12 % of shoots not declared', usual(0.12), false),
    ...figuresOf(`a volume ${LARGER} times as large`, large, false),
  ];
}

function figuresOf(name: string, histories: readonly History[], isGoal: boolean): Figure[] {
  const [model, line] = [ours, lineHeld].map((chance) => histories.map((one) => play(one, chance)).reduce(plus));
  if (model === undefined || line === undefined) throw new Error('nothing was played');
  const what = `three days ahead, ${name}`;
  const figure = (told: string, of: (one: Told) => number, unit: string, goal: string, holds: boolean): Figure => ({
    ...{ name: `${what}: ${told}`, value: of(model), unit, peer: { name: 'line held for 6 h', value: of(line) } },
    ...(isGoal ? { goal, holds } : { goal: null, holds: null }),
  });
  const missed = (told: Told) => (100 * told.missed) / told.overruns;
  const per100 = (count: (told: Told) => number) => (told: Told) => (100 * count(told)) / told.days;
  const raises = per100((told) => told.raises);
  const told = (name: string, of: (one: Told) => number): Figure => ({
    ...figure(name, of, 'times', '', false),
    ...{ goal: null, holds: null },
  });
  return [
    figure(
      `missed of ${model.overruns} overruns in ${Math.round(model.days)} days (not standing a day before)`,
      ...([missed, '%', '<= 10 %', missed(model) <= 10] as const),
    ),
    figure('raised per 100 days', raises, 'times', '<= 1/3 x', raises(model) <= raises(line) / 3),
    {
      ...told('a forecaster that knows the future raises once for each overrun, per 100 days', raises),
      value: per100((one) => one.overruns)(model),
    },
    told(
      'of the raises without an overrun within 7 days, per 100 days',
      per100((one) => one.forNothing),
    ),
  ];
}

function play(history: History, chance: Chance): Told {
  const { used, capacityBytes } = history;
  const told: Told = { raises: 0, forNothing: 0, overruns: 0, missed: 0, days: used.length / 24 - FIRST_DAY };
  let since: number | null = null;
  for (let hour = FIRST_DAY * 24; hour < used.length; hour++) {
    const roomBytes = LINE * capacityBytes - (used[hour] ?? 0);
    const wasFree = LINE * capacityBytes > (used[hour - 1] ?? 0);
    if (roomBytes <= 0 && wasFree) {
      told.overruns += 1;
      if (since === null || hour - since < IN_TIME_HOURS) told.missed += 1;
    }
    if (roomBytes <= 0 || hour % EVERY_HOURS !== 0) continue;
    const now = chance(history, hour, roomBytes);
    if (since === null && now >= RAISE) {
      since = hour;
      told.raises += 1;
      if (!overrunsWithin(history, hour)) told.forNothing += 1;
    } else if (since !== null && now < CLEAR) since = null;
  }
  return told;
}

function overrunsWithin({ used, capacityBytes }: History, hour: number): boolean {
  return used.slice(hour, hour + 7 * 24).some((bytes) => bytes >= LINE * capacityBytes);
}

function plus(one: Told, other: Told): Told {
  return {
    raises: one.raises + other.raises,
    forNothing: one.forNothing + other.forNothing,
    overruns: one.overruns + other.overruns,
    missed: one.missed + other.missed,
    days: one.days + other.days,
  };
}
