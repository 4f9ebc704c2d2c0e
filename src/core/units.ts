import type { Instant, Ratio } from './model.ts';

/**
 * Figures as people read them: decimal bytes (1 TB = 10^12 B, IEC 80000-13), MB/s for volumes, Mb/s for codecs.
 * A figure that is no number reads "unknown".
 */

const UNKNOWN = 'unknown';
const BYTE_UNITS = ['B', 'kB', 'MB', 'GB', 'TB', 'PB', 'EB'] as const;

/** Bytes to three significant digits: `0 B`, `933 GB`, `1.24 TB`, `-12.0 GB`. */
export function formatBytes(bytes: number): string {
  if (!Number.isFinite(bytes)) return UNKNOWN;
  const sign = bytes < 0 ? '-' : '';
  let value = Math.abs(bytes);
  if (value < 999.5) return `${Math.round(value) === 0 ? '' : sign}${Math.round(value)} B`;
  let unit = 0;
  while (value >= 999.5 && unit < BYTE_UNITS.length - 1) {
    value /= 1000;
    unit += 1;
  }
  return `${sign}${threeDigits(value)} ${BYTE_UNITS[unit]}`;
}

/** Bytes per second as MB/s: `0 MB/s`, `6.20 MB/s`, `1240 MB/s`. */
export function formatRate(bytesPerSecond: number): string {
  return formatMillions(bytesPerSecond, 'MB/s');
}

/** A share as a percentage: `87 %`. */
export function formatShare(share: number): string {
  return `${Math.round(share * 100)} %`;
}

/** Bits per second as Mb/s: `28.8 Mb/s`, `728 Mb/s`. */
export function formatBitrate(bitsPerSecond: number): string {
  return formatMillions(bitsPerSecond, 'Mb/s');
}

/** Seconds: `0.96 s`, `43 s`, `5 min 03 s`, `2 h 05 min`; hours are never folded into days (footage is counted in hours). */
export function formatDuration(seconds: number): string {
  if (!Number.isFinite(seconds)) return UNKNOWN;
  if (seconds < 0) return `-${formatDuration(-seconds)}`;
  if (seconds < 9.995) return `${Number(seconds.toFixed(2))} s`;
  if (seconds < 59.5) return `${Math.round(seconds)} s`;
  const whole = Math.round(seconds);
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${twoDigits(whole % 60)} s`;
  const minutes = Math.round(seconds / 60);
  return `${Math.floor(minutes / 60)} h ${twoDigits(minutes % 60)} min`;
}

/** How long ago, coarsely and rounded down: `43 s`, `12 min`, `5 h`, `3 days`. */
export function formatAge(seconds: number): string {
  if (!Number.isFinite(seconds)) return UNKNOWN;
  const age = Math.max(0, Math.floor(seconds));
  if (age < 60) return `${age} s`;
  if (age < 3600) return `${Math.floor(age / 60)} min`;
  if (age < 48 * 3600) return `${Math.floor(age / 3600)} h`;
  return `${Math.floor(age / 86_400)} days`;
}

/** Frames per second as the trade labels them: `25`, `29.97`, `23.976`, `59.94`. */
export function formatFrameRate(rate: Ratio): string {
  const value = rate.num / rate.den;
  return Number.isFinite(value) && value > 0 ? String(Number(value.toFixed(3))) : UNKNOWN;
}

/** `1 clip`, `12 clips`. */
export function formatCount(count: number, one: string, many = `${one}s`): string {
  return `${count} ${count === 1 ? one : many}`;
}

/** `shelf-a`, `shelf-a and shelf-b`, `shelf-a, shelf-b and shelf-c`. */
export function listWords(names: readonly string[]): string {
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}

/**
 * An instant as ISO 8601 with offset, to the millisecond: `2027-03-04T14:05:12.000+01:00`.
 * `zone` is an IANA name or an offset (`Europe/London`, `+02:00`); throws a RangeError on any other.
 */
export function isoWithOffset(instant: Instant, zone: string): string {
  return Temporal.Instant.fromEpochMilliseconds(Math.round(instant))
    .toZonedDateTimeISO(zone)
    .toString({ timeZoneName: 'never', smallestUnit: 'millisecond' });
}

function formatMillions(perSecond: number, unit: string): string {
  if (!Number.isFinite(perSecond)) return UNKNOWN;
  const millions = perSecond / 1e6;
  if (millions === 0) return `0 ${unit}`;
  if (Math.abs(millions) < 0.005) return `${millions < 0 ? '-' : ''}under 0.01 ${unit}`;
  return `${millions < 0 ? '-' : ''}${threeDigits(Math.abs(millions))} ${unit}`;
}

/** Three significant digits, more only where the whole part has more. */
function threeDigits(value: number): string {
  if (value < 9.995) return value.toFixed(2);
  if (value < 99.95) return value.toFixed(1);
  return value.toFixed(0);
}

function twoDigits(value: number): string {
  return String(value).padStart(2, '0');
}
