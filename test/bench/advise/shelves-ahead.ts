import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import { forecastCapacity } from '../../../src/core/assess/capacity-forecast.ts';
import type { ShelfState } from '../../../src/core/backup/backup-view.ts';
import { seededDraws } from '../../../src/rim/system/draws.ts';
import type { History } from '../forecast/simulated-shoots.ts';
import { DAY, HOUR, type Raise } from './kinds.ts';
import { lackedBytes, roomOn, type Shelf } from './shelf.ts';

const KEPT_FREE = { share: 0.01 };
const KNOWN_HOURS = 120 * 24;
/** With room for so many mean days a shelf is not full within ten: that is told without a forecast. */
const FAR_DAYS = 60;
const FAR = { at10: null, at50: null, at90: null };

export interface ShelvesAhead {
  /** Once a day: more often nothing moves. */
  ask(shelves: readonly Shelf[], now: number): void;
  of(shelf: Shelf): ShelfState['full'];
  /** Would it have been full ten days after, had nobody changed it? */
  wouldFill(raise: Raise): boolean;
}

/** When shelves will be full, by the same forecast as volumes (daemon/assess/shelf-ahead.ts). */
export function shelvesAhead({ hours, plans }: History): ShelvesAhead {
  const full = new Map<string, ShelfState['full']>();
  const rooms = new Map<string, number>();
  const came = (from: number, to: number) =>
    hours.slice(from, to).reduce((sum, { ingestBytes }) => sum + ingestBytes, 0);
  const dayBytes = came(0, hours.length) / (hours.length / 24);
  function fullOf({ totalBytes, freeBytes: free, lacks }: Shelf, hour: number): ShelfState['full'] {
    const freeBytes = Math.max(0, free - lacks.reduce((sum, { bytes }) => sum + bytes, 0));
    if (freeBytes > FAR_DAYS * dayBytes) return FAR;
    const lately = hours.slice(Math.max(0, hour - KNOWN_HOURS), hour);
    const { reserve } = forecastCapacity({
      at: hour * HOUR,
      capacity: assessCapacity({ totalBytes, freeBytes, availableBytes: freeBytes }, KEPT_FREE),
      hours: lately.map(({ hour, ingestBytes }) => ({ hour, ingestBytes, otherBytes: 0, deletedBytes: 0 })),
      planned: plans
        .filter(({ declaredHour, shoot }) => declaredHour <= hour && (shoot.days.at(-1)?.toHour ?? 0) > hour)
        .map(({ shoot }) => shoot),
      draws: () => seededDraws(0.5),
    });
    if (reserve === null) return null;
    const instant = (days: number | null) => (days === null ? null : hour * HOUR + days * DAY);
    return { at10: instant(reserve.at10), at50: instant(reserve.at50), at90: instant(reserve.at90) };
  }
  return {
    ask(shelves, now) {
      for (const shelf of shelves) {
        full.set(shelf.name, fullOf(shelf, now / HOUR));
        rooms.set(`${shelf.name} ${Math.floor(now / DAY)}`, roomOn(shelf) - lackedBytes(shelf));
      }
    },
    of: ({ name }) => full.get(name) ?? null,
    wouldFill({ subject, from }) {
      const hour = Math.floor(from / HOUR);
      const room = rooms.get(`${subject} ${Math.floor((from - 18 * HOUR) / DAY)}`);
      return room !== undefined && came(hour, hour + 240) >= room;
    },
  };
}
