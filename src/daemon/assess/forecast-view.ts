import type { CapacityAssessment } from '../../core/assess/assessment.ts';
import { type CapacityForecast, chanceToFit, forecastCapacity } from '../../core/assess/capacity-forecast.ts';
import type { BookedHour } from '../../core/forecast/booking.ts';
import type { DrawsOf } from '../../core/forecast/draws.ts';
import { HOUR_MS } from '../../core/forecast/growth.ts';
import type { PlannedShoot } from '../../core/forecast/planned.ts';
import type { Instant } from '../../core/model.ts';

export interface ForecastFor {
  volume: string;
  at: Instant;
  capacity: CapacityAssessment;
  growth: { hours: readonly BookedHour[]; version: number };
  planned: readonly PlannedShoot[];
}

/** Room that moved by less than this moves no date that anyone would see. */
const STEP_BYTES = 1e9;

export interface ForecastView {
  /** Made anew only where something that it rests on is another. */
  of(asked: ForecastFor): CapacityForecast;
  /** Chance that the reserve is not touched until this hour since 1970. */
  chanceToFit(asked: ForecastFor, untilHour: number): number | null;
}

export function createForecastView(draws: DrawsOf): ForecastView {
  const known = new Map<string, { key: string; forecast: CapacityForecast }>();
  const drawsFor = (volume: string) => () => draws(seedOf(volume));
  function forecastOf({ volume, at, capacity, growth, planned }: ForecastFor): CapacityForecast {
    const room = [capacity.roomBytes, capacity.space.availableBytes].map((bytes) => Math.round(bytes / STEP_BYTES));
    const key = JSON.stringify([Math.floor(at / HOUR_MS), room, growth.version, planned]);
    const before = known.get(volume);
    if (before?.key === key) return before.forecast;
    const forecast = forecastCapacity({ at, capacity, hours: growth.hours, planned, draws: drawsFor(volume) });
    known.set(volume, { key, forecast });
    return forecast;
  }
  return {
    of: forecastOf,
    chanceToFit: ({ volume, at, capacity, growth, planned }, untilHour) =>
      chanceToFit({ at, capacity, hours: growth.hours, planned, draws: drawsFor(volume) }, untilHour),
  };
}

/** The same volume has the same row of draws, so that its dates do not flicker: 0..1 by FNV-1a (RFC 9923, from memory). */
function seedOf(name: string): number {
  let hash = 0x811c9dc5;
  for (const unit of Buffer.from(name)) hash = Math.imul(hash ^ unit, 0x01000193) >>> 0;
  return hash / 2 ** 32;
}
