import type { Ratio } from '../model.ts';
import type { FormatSum } from '../store-ports.ts';
import { type PictureFormat, publishedRate } from './format-rates.ts';
import type { Playback } from './playback-need.ts';

/** Footage that is still to come. */
export interface ShootPlan extends PictureFormat {
  project: string;
  /** Where it will lie, if that was said. */
  volume?: string;
  /** ISO 8601 calendar days, in order. */
  days: readonly string[];
  cameras: number;
  /** Recorded by each camera on each day. */
  hours: number;
}

/** Bytes per second of one camera, and how that is known. */
export interface CameraRate {
  bps: number;
  from: 'own-project' | 'own-clips' | 'published-exact' | 'published-most';
  /** For a published one, where. */
  source: string | null;
  /** Clips that it was read from; 0 for a published one. */
  clips: number;
}

/**
 * What one camera records in this format: as the user's own clips of it are, those of the same project first; else as published.
 * `null`: neither knows it.
 */
export function cameraRate(
  plan: PictureFormat & { project: string },
  formats: readonly { project: string | null; formats: readonly FormatSum[] }[],
): CameraRate | null {
  const here = formats.filter(({ project }) => project === plan.project).flatMap((sum) => sum.formats);
  const everywhere = formats.flatMap((sum) => sum.formats);
  const own = ownRate(plan, here, 'own-project') ?? ownRate(plan, everywhere, 'own-clips');
  if (own !== null) return own;
  const published = publishedRate(plan);
  if (published === null) return null;
  const { bps, kind, source } = published;
  return { bps, from: kind === 'exact' ? 'published-exact' : 'published-most', source, clips: 0 };
}

function ownRate(plan: PictureFormat, formats: readonly FormatSum[], from: CameraRate['from']): CameraRate | null {
  const same = formats.filter((sum) => isOf(plan, sum) && sum.durationSeconds > 0);
  const seconds = same.reduce((total, sum) => total + sum.durationSeconds, 0);
  const bytes = same.reduce((total, sum) => total + sum.timedBytes, 0);
  const clips = same.reduce((total, sum) => total + sum.clips, 0);
  return seconds > 0 ? { bps: bytes / seconds, from, source: null, clips } : null;
}

function isOf({ format, width, height, frameRate }: PictureFormat, sum: FormatSum): boolean {
  const plain = (name: string) => name.toLowerCase().replace(/[^a-z0-9]/g, '');
  return (
    sum.codec !== null &&
    plain(sum.codec) === plain(format) &&
    sum.width === width &&
    sum.height === height &&
    sum.frameRate !== null &&
    sameRate(sum.frameRate, frameRate)
  );
}

function sameRate(one: Ratio, other: Ratio): boolean {
  return one.num * other.den === other.num * one.den;
}

/** All cameras of the plan, played together. How far their rates will spread is not known before they are there. */
export function plannedPlayback({ cameras }: ShootPlan, { bps }: CameraRate): Playback {
  return { streams: cameras, meanBps: cameras * bps, spreadBps: 0, largestBps: bps };
}

/** Bytes of one of its days. */
export function bytesPerDay({ cameras, hours }: ShootPlan, { bps }: CameraRate): number {
  return cameras * hours * 3600 * bps;
}

/** The day of the plan on which `roomBytes` are used up; `null`: none. */
export function dayOfOverrun(plan: ShootPlan, daily: number, roomBytes: number): string | null {
  const days = Math.floor(Math.max(0, roomBytes) / daily);
  return plan.days[days] ?? null;
}
