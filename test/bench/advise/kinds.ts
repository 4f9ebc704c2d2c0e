import type { AdvisoryKind } from '../../../src/core/advise/advisory.ts';

export const MINUTE = 60_000;
export const HOUR = 60 * MINUTE;
export const DAY = 24 * HOUR;

/** What an advisory is to foretell, or to tell. Times in ms. */
interface KindOfTrouble {
  /** A raise was right when trouble comes within so long, or goes on. */
  horizonMs: number;
  /** It is missed when nothing stood so long before it began; below 0: so long after it began is soon enough. */
  leadMs: number;
}

/*
 * Trouble is what costs somebody footage, time or a take, as it came about in the simulation, whatever anybody was told. Nobody in these
 * houses acts on an advisory: else each good one would count as false. Where people act anyway (they empty volumes, they change
 * shelves), a raise is right when it would have come so without them; the parts say how (`wouldCome`).
 *
 * - capacity-overrun: the reserve is reached; a day before at the latest, for to move a day's footage takes a night.
 * - capacity-reserve: a card does not fit, or would not within two weeks; an hour before at the latest, or its copy has begun.
 * - speed-overrun: angles that are played together ask for more than the volume gives, in an edit within two weeks; before that edit.
 * - volume-busy: others take most of what the volume gives for eight minutes and more; before it is over.
 * - footage-exposed: footage is two days old and lacks a copy that it should have; an hour before, as a third night begins.
 * - backup-failed: copies fail until somebody comes: what goes by itself with the first retries is none.
 * - backup-missed: a night is over, no backup began in it or is under way, and the shelf is there and lacks something.
 * - backup-window: a night ended and left footage behind; before the night began.
 * - shelf-filling: a copy has no room on its shelf; a day before, for a drive has to be bought.
 * - shelf-absent: a night begins and its shelf is not there, though it lacks something; an hour before.
 * - card-incomplete: a card of which footage is missing is used again (a day after it left, six hours after its copy broke off).
 * - arrival-stalled: an hour after its copy broke off for good somebody opens the file.
 * - drive-failing: a drive dies; a day before, so that a night's backup is between.
 */
export const KINDS = {
  'capacity-overrun': { horizonMs: 7 * DAY, leadMs: DAY },
  'capacity-reserve': { horizonMs: 14 * DAY, leadMs: HOUR },
  'speed-overrun': { horizonMs: 14 * DAY, leadMs: 0 },
  'volume-busy': { horizonMs: 0, leadMs: -8 * MINUTE },
  'footage-exposed': { horizonMs: 13 * HOUR, leadMs: HOUR },
  'backup-failed': { horizonMs: 3 * HOUR, leadMs: 0 },
  'backup-missed': { horizonMs: 0, leadMs: -HOUR },
  'backup-window': { horizonMs: 15 * HOUR, leadMs: 6 * HOUR },
  'shelf-filling': { horizonMs: 10 * DAY, leadMs: DAY },
  'shelf-absent': { horizonMs: 9 * HOUR, leadMs: HOUR },
  'card-incomplete': { horizonMs: 26 * HOUR, leadMs: HOUR },
  'arrival-stalled': { horizonMs: 2 * HOUR, leadMs: 0 },
  'drive-failing': { horizonMs: 90 * DAY, leadMs: DAY },
} as const satisfies Partial<Record<AdvisoryKind, KindOfTrouble>>;

export type Kind = keyof typeof KINDS;

export const KIND_NAMES = Object.keys(KINDS) as Kind[];

export function isKind(kind: AdvisoryKind): kind is Kind {
  return kind in KINDS;
}

/** It begins at `at`, and goes on until `until`. */
export interface Trouble {
  subject: string;
  at: number;
  until: number;
}

/** Something was told from `from` until `to`. */
export interface Raise {
  subject: string;
  from: number;
  to: number;
}
