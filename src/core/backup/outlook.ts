import type { KnownLayout } from '../assess/detected-layout.ts';
import { USUAL_WEAR } from '../assess/level-choices.ts';
import type { Instant } from '../model.ts';
import type { BackupOutlook, NightAhead } from './backup-view.ts';
import { type DueSeen, decide, type Job } from './due.ts';
import { type NextBackup, nextBackup } from './due-next.ts';
import { dueNights } from './due-nights.ts';
import type { JobState } from './due-state.ts';
import { type ExposureTime, tbHours } from './exposure-time.ts';
import { lossBeforeBackup } from './loss-chance.ts';
import { nextSlot } from './slots.ts';
import { nightFigures } from './window.ts';

/** One job, and what is known of it. */
export interface JobKnown {
  job: Job;
  state: JobState;
  seen: DueSeen;
  /** Of each shelf, in the order of `seen`: seconds to copy a byte and to read it back; `null`: not known. */
  secondsPerByte: readonly (number | null)[];
}

/** What each day brings, and what the volume lies on. */
export interface VolumeKnown {
  bytesPerDay: number;
  exposed: ExposureTime | null;
  layout: Pick<KnownLayout, 'level' | 'members'> | null;
  /** Members that are missing. */
  failed: number;
}

/** Puts together what the jobs of one volume will do. */
export function backupOutlook(jobs: readonly JobKnown[], volume: VolumeKnown, now: Instant): BackupOutlook {
  const nights = jobs.map((one) => nightOf(one, volume.bytesPerDay, now));
  const nexts = jobs.map(({ job, state, seen }) => nextBackup(job, state, seen, now));
  const next = nexts
    .filter((one) => one !== null)
    .reduce<NextBackup | null>((first, one) => (first === null || one.at < first.at ? one : first), null);
  const waits = jobs.map(({ job, state, seen }) => decide(job, state, seen, now));
  const firstWait = waits[0];
  const isRunning = jobs.some(({ state }) => state.run !== null);
  const ends = jobs.map(({ job, state }, index) => endOf(job, state, nexts[index] ?? null, nights[index] ?? null, now));
  const known = ends.filter((end) => end !== null);
  const { layout, failed, exposed } = volume;
  return {
    next,
    wait: isRunning || firstWait?.do !== 'wait' ? null : firstWait.reason,
    exposedTbHours: exposed === null ? null : tbHours(exposed),
    lacks: jobs.flatMap(({ seen }) => seen.shelves.map(({ name: shelf, lacksBytes: bytes }) => ({ shelf, bytes }))),
    nights,
    due: jobs.flatMap((one) => dueNights(one, now)),
    loss:
      layout === null
        ? null
        : lossBeforeBackup(
            { level: layout.level, members: layout.members, failed },
            USUAL_WEAR,
            now,
            known.length === 0 ? null : Math.min(...known),
          ),
  };
}

/** All its shelves that are there, one after the other. */
function nightOf({ job, seen, secondsPerByte, state }: JobKnown, bytesPerDay: number, now: Instant): NightAhead | null {
  const here = seen.shelves.flatMap((shelf, index) =>
    shelf.isThere ? [{ bytes: shelf.lacksBytes, each: secondsPerByte[index] ?? null }] : [],
  );
  if (here.length === 0 || here.some(({ bytes }) => bytes === null)) return null;
  if (here.some(({ bytes, each }) => each === null && bytes !== 0)) return null;
  const known = here.flatMap(({ bytes, each }) => (each === null ? [] : [{ bytes: bytes ?? 0, each }]));
  if (known.length === 0) return null;
  const bytes = known.reduce((sum, one) => sum + one.bytes, 0);
  const seconds = known.reduce((sum, one) => sum + one.bytes * one.each, 0);
  const usual = known.reduce((sum, { each }) => sum + each, 0) / known.length;
  const asked = { bytes, bytesPerDay: bytesPerDay * here.length, windowSeconds: job.windowSeconds };
  const night = nightFigures(asked, bytes > 0 ? seconds / bytes : usual);
  return {
    ...night,
    shelves: here.length,
    slotAt: nextSlot(job.table, now)?.at ?? null,
    isRunning: state.run !== null,
  };
}

/** When what is there now has its copies, as far as can be told: where the speed is not known, at the end of the window. */
function endOf(
  { windowSeconds }: Job,
  { run }: JobState,
  next: NextBackup | null,
  night: NightAhead | null,
  now: Instant,
): Instant | null {
  const seconds = night?.seconds ?? windowSeconds;
  if (run !== null) return Math.max(now, now + seconds * 1000);
  return next === null ? null : Math.max(now, next.at) + seconds * 1000;
}

/** Days that a mean day is taken from. */
const MEAN_DAYS = 14;
const DAY_HOURS = 24;

/** What came to a project, by the hour since 1970. */
interface CameTo {
  sum: { volume: string };
  hours: readonly { hour: number; bytes: number }[];
}

/** Footage that came to a volume on a mean day of the last two weeks, days without any among them; bytes. */
export function meanDayBytes(projects: readonly CameTo[], volume: string, now: Instant): number {
  const thisHour = Math.floor(now / 3_600_000);
  const from = thisHour - MEAN_DAYS * DAY_HOURS;
  let bytes = 0;
  let first = thisHour;
  for (const { sum, hours } of projects) {
    if (sum.volume !== volume) continue;
    for (const one of hours) {
      first = Math.min(first, one.hour);
      if (one.hour > from) bytes += one.bytes;
    }
  }
  const days = Math.min(MEAN_DAYS, Math.max(1, Math.ceil((thisHour - first) / DAY_HOURS)));
  return bytes / days;
}
