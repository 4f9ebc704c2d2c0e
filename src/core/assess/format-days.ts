import type { Ratio } from '../model.ts';

/** Bytes of clips of one format, of one day or hour. */
export interface FormatHour {
  /** The day on which they were recorded, ISO 8601, as the cameras' clocks had it; `null`: not known. */
  day: string | null;
  /** Else the hour since 1970 in which they were ready. */
  hour: number;
  codec: string | null;
  width: number | null;
  height: number | null;
  frameRate: Ratio | null;
  bytes: number;
}

/** How a project grew, by format: each day with footage, and of each format what came on it, bytes. */
export interface FormatDays {
  /** ISO 8601, oldest first. */
  days: string[];
  /** Largest first; `format`: `null` for all that are too small to be told apart. */
  formats: { format: Omit<FormatHour, 'day' | 'hour' | 'bytes'> | null; bytes: number[] }[];
}

/** Of more formats the smallest are told together: more colours nobody keeps apart. */
const TOLD_APART = 5;

/** `dayOf`: the calendar day on which an hour begins. */
export function formatDays(hours: readonly FormatHour[], dayOf: (hour: number) => string): FormatDays {
  const dayIn = ({ day, hour }: FormatHour) => day ?? dayOf(hour);
  const days = [...new Set(hours.map(dayIn))].sort();
  const placeOf = new Map(days.map((day, place) => [day, place]));
  const byFormat = Map.groupBy(hours, ({ codec, width, height, frameRate }) =>
    JSON.stringify([codec, width, height, frameRate]),
  );
  const sums = [...byFormat.values()].map((some) => {
    const bytes = days.map(() => 0);
    for (const one of some) {
      const place = placeOf.get(dayIn(one)) ?? 0;
      bytes[place] = (bytes[place] ?? 0) + one.bytes;
    }
    const { codec = null, width = null, height = null, frameRate = null } = some[0] ?? {};
    return { format: { codec, width, height, frameRate }, bytes };
  });
  sums.sort((one, other) => total(other.bytes) - total(one.bytes));
  const rest = sums.slice(TOLD_APART);
  return {
    days,
    formats: [
      ...sums.slice(0, TOLD_APART),
      ...(rest.length === 0
        ? []
        : [{ format: null, bytes: days.map((_, place) => total(rest.map((one) => one.bytes[place] ?? 0))) }]),
    ],
  };
}

function total(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0);
}
