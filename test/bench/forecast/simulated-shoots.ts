import type { GrowthHour } from '../../../src/core/forecast/growth.ts';
import type { PlannedShoot } from '../../../src/core/forecast/planned.ts';
import { generator } from '../../core/assess/noisy-day.ts';

/*
 * A volume over some months, invented: shoots of some days with days of editing between them, cards copied through the day, renders and
 * caches, and projects removed when it is nearly full. Whoever wrote the model wrote this, too: it flatters the model.
 */

export interface History {
  name: string;
  capacityBytes: number;
  /** What came and went, deletions left out. */
  hours: GrowthHour[];
  /** Bytes in use at the end of each hour, deletions included. */
  used: number[];
  /** What was declared, and when. */
  plans: { declaredHour: number; shoot: PlannedShoot }[];
}

const DAY = 24;
const LINE = 0.9;

interface Shoot {
  firstDay: number;
  days: number;
  bytesADay: number;
}

/**
 * `undeclared`: share of shoots that nobody declares, 0..1. `larger`: how many times the volume
 * is what it usually is beside its shoots; it fills so much less often.
 */
export function simulatedHistory(seed: number, undeclared: number, days = 260, larger = 1): History {
  const random = generator(seed);
  const normal = () => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random());
  const neededBytes = 24e12 * Math.exp(0.4 * normal());
  const capacityBytes = neededBytes * larger;
  const shoots = shootsOf(days, neededBytes, random, normal);
  const ingest = new Array<number>(days * DAY).fill(0);
  const other = new Array<number>(days * DAY).fill(0);
  for (const shoot of shoots) copyCards(shoot, ingest, random, normal);
  renderAndPurge(other, neededBytes, random);
  const hours = ingest.map((bytes, hour) => ({ hour, ingestBytes: bytes, otherBytes: other[hour] ?? 0 }));
  return {
    name: `shoots ${seed}`,
    capacityBytes,
    hours,
    used: usedOf(hours, capacityBytes),
    plans: plansOf(shoots, undeclared, random, normal),
  };
}

function shootsOf(days: number, capacity: number, random: () => number, normal: () => number): Shoot[] {
  const shoots: Shoot[] = [];
  for (let day = Math.floor(random() * 8); day < days; ) {
    let length = 1;
    while (random() > 0.25 && length < 14) length += 1;
    shoots.push({ firstDay: day, days: length, bytesADay: capacity * 0.028 * Math.exp(0.7 * normal()) });
    day += length + 1 + Math.floor(-9 * Math.log(1 - random()));
  }
  return shoots;
}

/** Cards come through the day, as they are full. */
function copyCards(
  { firstDay, days, bytesADay }: Shoot,
  ingest: number[],
  random: () => number,
  normal: () => number,
): void {
  for (let day = firstDay; day < firstDay + days; day++) {
    const bytes = bytesADay * Math.exp(0.35 * normal());
    const begins = day * DAY + 9 + Math.floor(random() * 3);
    const parts = Array.from({ length: 6 + Math.floor(random() * 5) }, () => (random() < 0.6 ? random() : 0));
    parts[parts.length - 1] = 0.5;
    const all = parts.reduce((sum, part) => sum + part, 0);
    for (const [hour, part] of parts.entries()) {
      const at = begins + hour;
      if (at < ingest.length) ingest[at] = (ingest[at] ?? 0) + (bytes * part) / all;
    }
  }
}

function renderAndPurge(other: number[], capacity: number, random: () => number): void {
  let caches = 0;
  for (let hour = 0; hour < other.length; hour++) {
    const isWork = hour % DAY >= 10 && hour % DAY < 19 && Math.floor(hour / DAY) % 7 < 5;
    if (isWork && random() < 0.5) {
      const bytes = capacity * 0.0006 * random();
      other[hour] = bytes;
      caches += bytes;
    }
    if (hour % DAY === 20 && random() < 0.1) {
      other[hour] = -0.6 * caches;
      caches *= 0.4;
    }
  }
}

/** When it is nearly full, projects are removed. */
function usedOf(hours: readonly GrowthHour[], capacity: number): number[] {
  let used = 0.2 * capacity;
  return hours.map(({ ingestBytes, otherBytes }) => {
    used = Math.max(0, used + ingestBytes + otherBytes);
    if (used > (LINE + 0.02) * capacity) used = 0.45 * capacity;
    return used;
  });
}

/** Most shoots are declared some days ahead, some too late or by the wrong day, and some declared ones never happen. */
function plansOf(
  shoots: readonly Shoot[],
  undeclared: number,
  random: () => number,
  normal: () => number,
): History['plans'] {
  return shoots.flatMap(({ firstDay, days, bytesADay }, index) => {
    if (random() < undeclared) return [];
    const declaredHour = (firstDay - 2 - Math.floor(random() * 18)) * DAY;
    const first = firstDay - (random() < 0.08 ? 1 : 0);
    const bytes = bytesADay * Math.exp(0.3 * normal());
    const planned = (from: number) => ({
      project: `shoot ${index}`,
      days: Array.from({ length: days }, (_, day) => ({
        fromHour: (from + day) * DAY,
        toHour: (from + day + 1) * DAY,
        bytes,
      })),
    });
    const real = { declaredHour, shoot: planned(first) };
    if (random() >= 0.07) return [real];
    return [real, { declaredHour, shoot: { ...planned(firstDay + days + 3), project: `no shoot ${index}` } }];
  });
}
