import type { ShelfState } from '../../../src/core/backup/backup-view.ts';
import type { RunEnd } from '../../../src/core/backup/due-state.ts';
import type { Dice } from './dice.ts';
import { DAY, HOUR } from './kinds.ts';

/** A drive that copies go to, with what happens to it. */
export interface Shelf {
  name: string;
  /** To copy a byte and to read it back. */
  secondsPerByte: number;
  writeBps: number;
  totalBytes: number;
  freeBytes: number;
  /** What it lacks, oldest first. */
  lacks: { at: number; bytes: number }[];
  away: { from: number; to: number } | null;
  /** A loose plug, until somebody comes. */
  brokenUntil: number;
  failedSince: number | null;
  /** Runs that failed, in all. */
  failures: number;
  lastSuccess: number;
  /** A larger drive is on its way. */
  changedAt: number;
}

/** How a run to a shelf will come out. */
export interface ShelfRun {
  shelf: Shelf;
  from: number;
  to: number;
  bytes: number;
  how: RunEnd;
  isFull: boolean;
}

/** Runs that break and go through when tried again, and those that break until somebody comes. */
const TRANSIENT = 0.02;
const LASTING = 0.006;

export function newShelf(name: string, dayBytes: number, dice: Dice): Shelf {
  const writeBps = dice.between(130e6, 240e6);
  const totalBytes = dayBytes * dice.between(40, 120);
  return {
    ...{ name, writeBps, secondsPerByte: 1 / writeBps + 1 / dice.between(180e6, 260e6), totalBytes },
    ...{ freeBytes: totalBytes * dice.between(0.3, 1), lacks: [], away: null, brokenUntil: 0 },
    ...{ failedSince: null, failures: 0, lastSuccess: 0, changedAt: Number.POSITIVE_INFINITY },
  };
}

export function isAway({ away }: Shelf, now: number): boolean {
  return away !== null && now >= away.from && now < away.to;
}

export function lackedBytes({ lacks }: Shelf): number {
  return lacks.reduce((sum, { bytes }) => sum + bytes, 0);
}

/** Not to the last byte. */
export function roomOn({ freeBytes, totalBytes }: Shelf): number {
  return Math.max(0, freeBytes - 0.01 * totalBytes);
}

/** When it is taken away: forgotten over a night, borrowed for an hour or two, or for the evening. */
export function awayOn(day: number, dice: Dice): Shelf['away'] {
  const at = (from: number, to: number) => ({ from: day * DAY + from * HOUR, to: day * DAY + to * HOUR });
  if (dice.happens(0.02)) return at(17, 33 + Math.floor(dice.between(0, 6)));
  if (dice.happens(0.1)) return at(11, 13);
  return dice.happens(0.03) ? at(17, 23) : null;
}

/** Makes a run from `from` on, to be over by `until`. */
export function runOf(shelf: Shelf, from: number, until: number | null, dice: Dice): ShelfRun {
  const wanted = lackedBytes(shelf);
  const isLasting = from >= shelf.brokenUntil && dice.happens(LASTING);
  if (isLasting) shelf.brokenUntil = from + dice.about(14, 0.8) * HOUR;
  if (from < shelf.brokenUntil || dice.happens(TRANSIENT))
    return { shelf, from, to: from + 120_000, bytes: 0, how: 'failed', isFull: false };
  const fits = Math.min(wanted, roomOn(shelf));
  const ends = Math.ceil(from + fits * shelf.secondsPerByte * 1000) + 60_000;
  if (until !== null && ends > until) {
    const bytes = Math.max(0, (until - from) / 1000 / shelf.secondsPerByte);
    return { shelf, from, to: Math.max(from, until), bytes: Math.min(fits, bytes), how: 'stopped', isFull: false };
  }
  return { shelf, from, to: ends, bytes: fits, how: fits < wanted ? 'failed' : 'done', isFull: fits < wanted };
}

/** What came of it. */
export function endRun({ shelf, to, bytes, how, isFull }: ShelfRun): void {
  shelf.freeBytes -= bytes;
  let left = bytes;
  shelf.lacks = shelf.lacks.flatMap((one) => {
    const covered = Math.min(left, one.bytes);
    left -= covered;
    // What came after it began is no matter of this run.
    return one.bytes - covered > 1 ? [{ at: one.at, bytes: one.bytes - covered }] : [];
  });
  if (how === 'failed') {
    shelf.failedSince ??= to;
    shelf.failures += 1;
  } else shelf.failedSince = null;
  if (how === 'done') shelf.lastSuccess = to;
  if (isFull && shelf.changedAt === Number.POSITIVE_INFINITY) shelf.changedAt = to + 30 * HOUR;
}

/** As the daemon would have found it. */
export function stateOf(shelf: Shelf, now: number): ShelfState {
  const { name, totalBytes, freeBytes } = shelf;
  const state = isAway(shelf, now) ? 'shelf-absent' : 'ready';
  return {
    ...{ name, path: `/media/${name}`, rotate: false, volumes: ['stripe'], state, full: null, lookedAt: now },
    message: state === 'ready' ? null : `${name} is not mounted.`,
    known: { id: name, name, drive: name, seenAt: now, totalBytes, freeBytes },
  };
}
