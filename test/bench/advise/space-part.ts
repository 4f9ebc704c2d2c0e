import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import type { CapacityForecast } from '../../../src/core/assess/capacity-forecast.ts';
import { forecastCapacity } from '../../../src/core/assess/capacity-forecast.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import type { History } from '../forecast/simulated-shoots.ts';
import type { Dice } from './dice.ts';
import { HOUR, type Trouble } from './kinds.ts';
import type { Part } from './part.ts';

const RESERVE = { share: 0.1 };
/** A volume of ext4 hides so much of itself. */
const HIDDEN = 0.05;
const KNOWN_HOURS = 120 * 24;
/** Forecasts are made at these hours. */
const ASKED_AT = [8, 14, 20];
/** With room for so many days like the largest of two months, three days do not reach the reserve; each 20th time it is asked all the same. */
const FAR_DAYS = 8;
const ASKED_ANYWAY = 20;
const STILL_PLANNED_HOURS = 30 * 24;

/** A volume that fills; its owner empties it when a look in the morning finds it too full, at a level of that day's mood. */
export function spacePart(history: History, dice: Dice): Part {
  const { capacityBytes, hours } = history;
  const { used, fulls } = fill(history, dice);
  const came = hours.map(() => 0);
  for (const [hour, { ingestBytes, otherBytes }] of hours.entries())
    came[hour] = (came[hour - 1] ?? 0) + ingestBytes + otherBytes;
  const between = (from: number, to: number) =>
    (came[Math.min(to, came.length) - 1] ?? 0) - (came[Math.min(from, came.length) - 1] ?? 0);
  const crossed = used.flatMap((bytes, hour): Trouble[] => {
    const isCrossed = bytes >= 0.9 * capacityBytes && (used[hour - 1] ?? 0) < 0.9 * capacityBytes;
    return isCrossed ? [{ subject: 'stripe', at: (hour + 1) * HOUR, until: (hour + 1) * HOUR }] : [];
  });
  const roomAt = (ms: number, line: number) => line * capacityBytes - (used[Math.floor(ms / HOUR) - 1] ?? 0);
  const isUsedUp = (from: number, days: number, line: number) =>
    between(from / HOUR, from / HOUR + days * 24) >= roomAt(from, line);
  let forecast: CapacityForecast | null = null;
  let skipped = 0;
  const assessed = (hour: number) => {
    const totalBytes = capacityBytes / (1 - HIDDEN);
    const freeBytes = totalBytes - (used[hour - 1] ?? 0);
    return assessCapacity({ totalBytes, freeBytes, availableBytes: freeBytes - HIDDEN * totalBytes }, RESERVE);
  };
  function ask(hour: number): void {
    const capacity = assessed(hour);
    const largest = Math.max(...Array.from({ length: 60 }, (_, day) => between(hour - 24 * day - 24, hour - 24 * day)));
    if (capacity.roomBytes > FAR_DAYS * largest && ++skipped % ASKED_ANYWAY > 0) {
      forecast = forecast === null ? null : { ...forecast, reserve: FAR };
      return;
    }
    const lately = hours.slice(Math.max(0, hour - KNOWN_HOURS), hour).map((one) => ({ ...one, deletedBytes: 0 }));
    const planned = history.plans
      .filter(({ declaredHour, shoot }) => {
        const until = Math.max(...shoot.days.map(({ toHour }) => toHour));
        return declaredHour <= hour && until > hour - STILL_PLANNED_HOURS;
      })
      .map(({ shoot }) => shoot);
    forecast = forecastCapacity({
      ...{ at: hour * HOUR, capacity, hours: lately, planned },
      draws: () => seededDraws(0.5),
    });
  }
  return {
    step(now, naive) {
      const hour = Math.floor(now / HOUR);
      if (now % HOUR !== 0) return;
      if (ASKED_AT.includes(hour % 24)) ask(hour);
      // The usual two of monitoring: 90 % full, and the line through the last day reaches the reserve within three.
      naive.tell('capacity-reserve', 'stripe', roomAt(now, 0.9) <= 0, now);
      const day = between(hour - 24, hour);
      const isNear = roomAt(now, 0.9) > 0 && day > 0 && roomAt(now, 0.9) / day <= 3;
      naive.tell('capacity-overrun', 'stripe', isNear, now);
    },
    show(scene, now) {
      scene.volume.capacity = assessed(Math.floor(now / HOUR));
      scene.volume.forecast = forecast;
    },
    next: () => Number.POSITIVE_INFINITY,
    troubles: { 'capacity-overrun': crossed, 'capacity-reserve': fulls },
    wouldCome: {
      'capacity-overrun': ({ from }) => isUsedUp(Math.ceil(from / HOUR) * HOUR, 7, 0.9),
      'capacity-reserve': ({ from }) => isUsedUp(Math.ceil(from / HOUR) * HOUR, 14, 1),
    },
  };
}

const FAR = { at10: null, at50: null, at90: null, within24h: 0, within72h: 0, within7d: 0 };

/** Bytes in use at the end of each hour, and when a card did not fit. */
function fill({ hours, capacityBytes }: History, dice: Dice): { used: number[]; fulls: Trouble[] } {
  let used = 0.3 * capacityBytes;
  let level = dice.between(0.84, 1);
  const fulls: Trouble[] = [];
  let isFull = false;
  const all = hours.map(({ ingestBytes, otherBytes }, hour) => {
    if (hour % 24 === 10 && used >= level * capacityBytes) {
      used = dice.between(0.25, 0.55) * capacityBytes;
      level = dice.between(0.84, 1);
      isFull = false;
    }
    used = Math.max(0, used + ingestBytes + otherBytes);
    if (used < capacityBytes) return used;
    if (!isFull) fulls.push({ subject: 'stripe', at: (hour + 1) * HOUR, until: (hour + 1) * HOUR });
    isFull = true;
    // Somebody is fetched when nothing can be written any more.
    level = Math.min(level, 0.99);
    used = capacityBytes;
    return used;
  });
  return { used: all, fulls };
}
