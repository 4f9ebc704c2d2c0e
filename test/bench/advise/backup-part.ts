import { type BackupRun, newRun } from '../../../src/core/backup/backup-run.ts';
import { type BackupOutlook, NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import { type DueSeen, decide, type Job } from '../../../src/core/backup/due.ts';
import { type JobState, NEW_JOB, noteJob, type StartReason } from '../../../src/core/backup/due-state.ts';
import { type ExposureTime, watchExposure } from '../../../src/core/backup/exposure-time.ts';
import { backupOutlook } from '../../../src/core/backup/outlook.ts';
import { lastSlot, timetable } from '../../../src/core/backup/slots.ts';
import type { History } from '../forecast/simulated-shoots.ts';
import { tellNaive } from './backup-naive.ts';
import { createBackupTroubles } from './backup-troubles.ts';
import type { Dice } from './dice.ts';
import { DAY, HOUR, MINUTE } from './kinds.ts';
import type { Part } from './part.ts';
import { awayOn, endRun, isAway, lackedBytes, newShelf, runOf, type Shelf, type ShelfRun, stateOf } from './shelf.ts';
import { shelvesAhead } from './shelves-ahead.ts';

/** As the defaults have it. */
const JOB: Job = { table: timetable('0 4 * * *', 'UTC'), windowSeconds: 6 * 3600 };
const WINDOW_MS = JOB.windowSeconds * 1000;

interface Running {
  reason: StartReason;
  until: number | null;
  each: ShelfRun[];
}

/** Backups to two shelves, begun by what decides in earnest; their runs take the time that such drives take, and fail now and then. */
export function backupPart(history: History, dice: Dice): Part {
  const { hours } = history;
  const dayBytes = hours.reduce((sum, { ingestBytes }) => sum + ingestBytes, 0) / (hours.length / 24);
  const shelves = ['shelf-a', 'shelf-b'].map((name) => newShelf(name, dayBytes, dice));
  const ahead = shelvesAhead(history);
  const troubles = createBackupTroubles(shelves);
  const runs = new Map<string, BackupRun>();
  let job: JobState = noteJob(NEW_JOB, { type: 'opened', shelves: shelves.map(({ name }) => name) }, 0);
  let running: Running | null = null;
  let exposed: ExposureTime | null = null;
  let cameAt: number | null = null;
  let hour = 0;
  let worksLate = false;
  let outlook: BackupOutlook | null = null;
  let due = 0;

  function come(now: number): void {
    for (; (hour + 1) * HOUR <= now; hour++) {
      const bytes = hours[hour]?.ingestBytes ?? 0;
      const at = (hour + 1) * HOUR;
      if (bytes > 0) {
        cameAt = at;
        for (const shelf of shelves) shelf.lacks.push({ at, bytes });
      }
      if (hour % 24 === 9) beginDay(Math.floor(hour / 24));
    }
  }

  function beginDay(day: number): void {
    worksLate = dice.happens(0.01);
    for (const shelf of shelves) {
      if (shelf.away === null || shelf.away.to <= day * DAY + 10 * HOUR) shelf.away = awayOn(day, dice);
      if (shelf.changedAt <= day * DAY + 10 * HOUR || shelf.freeBytes < shelf.totalBytes * dice.between(-0.3, 0.06))
        Object.assign(shelf, { freeBytes: shelf.totalBytes, changedAt: Number.POSITIVE_INFINITY, failedSince: null });
    }
  }

  /** Played in the working hours of some days, and now and then all night. */
  function hindrance(now: number): DueSeen['hindrance'] {
    const [day, at] = [Math.floor(now / DAY), (now % DAY) / HOUR];
    const isWork = day % 7 < 5 && at >= 10 && at < 18 && (day * 7 + Math.floor(at)) % 5 < 3;
    return isWork || (worksLate && (at >= 22 || at < 10)) ? 'playback' : null;
  }

  function seen(now: number): DueSeen {
    return {
      ...{ exposed, footageCameAt: cameAt, quietSince: cameAt ?? 0, hindrance: hindrance(now) },
      shelves: shelves.map((shelf) => {
        const lacksBytes = lackedBytes(shelf);
        const hadAllAt = lacksBytes === 0 ? now : shelf.lastSuccess > 0 ? shelf.lastSuccess : null;
        return { name: shelf.name, isThere: !isAway(shelf, now), lacksBytes, hadAllAt };
      }),
    };
  }

  function watch(now: number): void {
    const { bytes, since } = exposedOf(shelves);
    exposed = watchExposure(exposed, { exposedBytes: bytes, exposedSince: since }, now);
  }

  function finish({ each, reason, until }: Running): void {
    const last = Math.max(...each.map(({ to }) => to));
    for (const one of each) {
      const wasFailing = one.shelf.failedSince !== null;
      endRun(one);
      runs.set(one.shelf.name, runEnded(one, reason));
      troubles.ended(one, { wasFailing, until });
    }
    const how = Object.fromEntries(each.map(({ shelf, how }) => [shelf.name, how]));
    job = noteJob(job, { type: 'ended', shelves: how }, last);
    running = null;
  }

  function begin(now: number): void {
    const decision = decide(JOB, job, seen(now), now);
    if (decision.do !== 'start') return;
    job = noteJob(job, { type: 'started', start: decision }, now);
    let from = now;
    const each = shelves
      .filter(({ name }) => decision.shelves.includes(name))
      .map((shelf) => {
        const one = runOf(shelf, from, decision.until, dice);
        from = one.to;
        return one;
      });
    running = { reason: decision.reason, until: decision.until, each };
    troubles.began(decision.shelves, now);
  }

  function nextOf(now: number): number {
    const day = Math.floor(now / DAY) * DAY;
    const fixed = [4 * HOUR, 4 * HOUR + MINUTE, 10 * HOUR + MINUTE].map((at) => day + at);
    const quiet = cameAt === null ? [] : [cameAt + 11 * MINUTE];
    const ends = running === null ? [] : [endOf(running)];
    return Math.min(Number.POSITIVE_INFINITY, ...[...fixed, ...quiet, ...ends].filter((at) => at > now));
  }

  return {
    step(now, naive) {
      // Between its own times nothing of it moves.
      if (now % HOUR !== 0 && now < due) return;
      const slot = lastSlot(JOB.table, now)?.at ?? 0;
      come(now);
      if (running !== null && now >= endOf(running)) finish(running);
      watch(now);
      if (running === null) begin(now);
      troubles.look(now, { slot, windowMs: WINDOW_MS, job, oldest: exposedOf(shelves).since });
      tellNaive(shelves, now, { naive, windowMs: WINDOW_MS, came: cameAt });
      if (now % HOUR === 0 && (now / HOUR) % 24 === 18) ahead.ask(shelves, now);
      const secondsPerByte = shelves.map((shelf) => shelf.secondsPerByte);
      const known = { job: JOB, state: job, seen: seen(now), secondsPerByte };
      outlook = backupOutlook([known], { bytesPerDay: dayBytes, exposed, layout: null, failed: 0 }, now);
      due = nextOf(now);
    },
    show(scene, now) {
      const { bytes, since } = exposedOf(shelves);
      scene.volume.safety = {
        exposedBytes: bytes,
        exposedClips: bytes > 0 ? 9 : 0,
        exposedSeconds: 60,
        exposedSince: since,
      };
      scene.backups = {
        ...NO_BACKUPS,
        shelves: shelves.map((shelf) => ({ ...stateOf(shelf, now), full: ahead.of(shelf) })),
        runs: [...runs.values()],
        outlooks: outlook === null ? new Map() : new Map([['stripe', outlook]]),
      };
    },
    next: () => due,
    troubles: troubles.all,
    wouldCome: { 'shelf-filling': ahead.wouldFill },
  };
}

function endOf({ each }: Running): number {
  return Math.max(...each.map(({ to }) => to));
}

/** Two copies are wanted: what either lacks is exposed. */
function exposedOf(shelves: readonly Shelf[]): { bytes: number; since: number | null } {
  const byTime = new Map<number, number>();
  for (const { lacks } of shelves)
    for (const { at, bytes } of lacks) byTime.set(at, Math.max(bytes, byTime.get(at) ?? 0));
  if (byTime.size === 0) return { bytes: 0, since: null };
  return { bytes: [...byTime.values()].reduce((sum, one) => sum + one, 0), since: Math.min(...byTime.keys()) };
}

function runEnded({ shelf, from, to, how, isFull }: ShelfRun, cause: StartReason): BackupRun {
  const run = newRun({ volume: 'stripe', shelf: shelf.name, cause, startedAt: from });
  if (how === 'done') return { ...run, stage: 'done', endedAt: to };
  if (how === 'stopped') return { ...run, stage: 'stopped', endedAt: to };
  const why = isFull
    ? ({ reason: 'no-room', message: 'There is no room left.' } as const)
    : ({ reason: 'failed', message: 'The system says input/output error.' } as const);
  return { ...run, stage: 'broken', endedAt: to, why };
}
