import { type BookedHour, bookGrowth, type GrowthMark, withBooked } from '../../core/forecast/booking.ts';
import { HOUR_MS, HOURS_A_DAY } from '../../core/forecast/growth.ts';
import type { Clock } from '../../core/ports.ts';
import type { CataloguePort, LedgerPort } from '../../core/store-ports.ts';

/** How far back what came counts. */
const KNOWN_DAYS = 121;
/** What is booked is kept so often. A crash loses nothing: it is booked anew from what was kept last. */
const KEEP_MS = 60_000;

export interface GrowthView {
  start(): Promise<void>;
  /** How things stand on a volume whose every folder was read and whose room was asked for just now. Never rejects. */
  note(volume: string, now: GrowthMark, capacityBytes: number): Promise<void>;
  /** The hours of the last months; and a figure that is another whenever they are. */
  of(volume: string): { hours: readonly BookedHour[]; version: number };
}

export interface GrowthDeps {
  volumes: readonly string[];
  ledger: Pick<LedgerPort, 'growth' | 'putGrowth'>;
  catalogue: Pick<CataloguePort, 'footageHours'>;
  clock: Clock;
  /** The store refused. */
  refused: (error: unknown) => void;
}

interface Known {
  hours: Map<number, BookedHour>;
  mark: GrowthMark | null;
  /** Hours that are not kept yet. */
  unkept: Set<number>;
  keptAt: number;
  version: number;
}

/** What came to each volume and went, hour by hour, over restarts. */
export function createGrowthView({ volumes, ledger, catalogue, clock, refused }: GrowthDeps): GrowthView {
  const known = new Map<string, Known>();

  async function read(volume: string): Promise<void> {
    const since = Math.floor(clock.now() / HOUR_MS) - KNOWN_DAYS * HOURS_A_DAY;
    const { mark, hours } = await ledger.growth(volume, since);
    const kept = new Map(hours.map((hour) => [hour.hour, hour]));
    known.set(volume, { hours: kept, mark, unkept: new Set(), keptAt: Number.NEGATIVE_INFINITY, version: 0 });
  }

  /** Of what lies there already is told by when its files were changed last: mostly when they were copied. */
  async function begin(volume: string, one: Known, nowHour: number): Promise<void> {
    const oldest = nowHour - KNOWN_DAYS * HOURS_A_DAY;
    for (const { hour, bytes } of await catalogue.footageHours(volume)) {
      if (hour < oldest || hour > nowHour) continue;
      one.hours.set(hour, { hour, ingestBytes: bytes, otherBytes: 0, deletedBytes: 0 });
      one.unkept.add(hour);
    }
    one.version += 1;
  }

  async function keep(volume: string, one: Known, mark: GrowthMark): Promise<void> {
    const hours = [...one.unkept].flatMap((hour) => one.hours.get(hour) ?? []);
    one.keptAt = clock.ticks();
    await ledger.putGrowth(volume, mark, hours);
    for (const { hour } of hours) one.unkept.delete(hour);
  }

  function book(one: Known, now: GrowthMark, capacityBytes: number): void {
    if (one.mark === null) return;
    const booked = bookGrowth(one.mark, now, [...one.hours.values()], capacityBytes);
    for (const hour of withBooked(one.hours, booked)) {
      one.hours.set(hour.hour, hour);
      one.unkept.add(hour.hour);
    }
    if (booked.length > 0) one.version += 1;
  }

  return {
    async start() {
      for (const volume of volumes) await read(volume).catch(refused);
    },
    async note(volume, now, capacityBytes) {
      try {
        if (!known.has(volume)) await read(volume);
        const one = known.get(volume);
        if (one === undefined) return;
        if (one.mark === null) await begin(volume, one, Math.floor(now.at / HOUR_MS));
        else book(one, now, capacityBytes);
        const isNew = one.mark === null;
        one.mark = now;
        if (isNew || (one.unkept.size > 0 && clock.ticks() - one.keptAt >= KEEP_MS)) await keep(volume, one, now);
      } catch (error) {
        // It must not silence everything else.
        refused(error);
      }
    },
    of: (volume) => {
      const one = known.get(volume);
      return { hours: [...(one?.hours.values() ?? [])], version: one?.version ?? 0 };
    },
  };
}
