import { assessCapacity } from '../../core/assess/capacity.ts';
import { type BackupView, lackedBy, type ShelfState } from '../../core/backup/backup-view.ts';
import type { BookedHour } from '../../core/forecast/booking.ts';
import type { PlannedShoot } from '../../core/forecast/planned.ts';
import type { Instant } from '../../core/model.ts';
import type { ForecastView } from './forecast-view.ts';

interface ShelfAheadDeps {
  at: Instant;
  growth: (volume: string) => { hours: readonly BookedHour[]; version: number };
  planned: (volume: string) => readonly PlannedShoot[];
  forecast: Pick<ForecastView, 'of'>;
}

/** Copying stops before a shelf is full to the last byte. */
const KEPT_FREE = { share: 0.01 };
const DAY_MS = 86_400_000;

/**
 * When each shelf will be full: by the same forecast as a volume, with the footage that comes to the volumes it holds copies of. What it still lacks
 * counts as copied.
 */
export function withShelvesAhead(view: BackupView, deps: ShelfAheadDeps): BackupView {
  return {
    ...view,
    shelves: view.shelves.map((shelf) => ({
      ...shelf,
      full: fullOf(shelf, lackedBy(shelf.name, view.outlooks), deps),
    })),
  };
}

function fullOf(
  { name, known, volumes }: ShelfState,
  lacksBytes: number | null,
  { at, growth, planned, forecast }: ShelfAheadDeps,
): ShelfState['full'] {
  if (known === null) return null;
  const { totalBytes } = known;
  const freeBytes = Math.max(0, known.freeBytes - (lacksBytes ?? 0));
  const booked = volumes.map(growth);
  const { reserve } = forecast.of({
    // No volume has a name with a line break.
    volume: `shelf\n${name}`,
    at,
    capacity: assessCapacity({ totalBytes, freeBytes, availableBytes: freeBytes }, KEPT_FREE),
    growth: {
      hours: ingestOf(booked.flatMap(({ hours }) => hours)),
      version: booked.reduce((sum, { version }) => sum + version, 0),
    },
    planned: volumes.flatMap(planned),
  });
  if (reserve === null) return null;
  const instant = (days: number | null) => (days === null ? null : at + days * DAY_MS);
  return { at10: instant(reserve.at10), at50: instant(reserve.at50), at90: instant(reserve.at90) };
}

/** What came by the hour; what went from a volume, and what programs made there, is no matter of its shelf. */
function ingestOf(hours: readonly BookedHour[]): BookedHour[] {
  const sums = new Map<number, number>();
  for (const { hour, ingestBytes } of hours) sums.set(hour, (sums.get(hour) ?? 0) + ingestBytes);
  return [...sums]
    .map(([hour, ingestBytes]) => ({ hour, ingestBytes, otherBytes: 0, deletedBytes: 0 }))
    .sort((one, other) => one.hour - other.hour);
}
