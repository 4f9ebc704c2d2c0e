import type { Assessment, VolumeAssessment } from '../../../src/core/assess/assessment.ts';
import type { Kind, Raise, Trouble } from './kinds.ts';
import type { Record } from './record.ts';

/** What of a house is seen at an instant: the rest is as in any other. */
export interface Scene extends Pick<Assessment, 'projects' | 'arrivals' | 'cards' | 'backups'> {
  volume: Partial<VolumeAssessment>;
}

/** One side of a house's life. Times are ms since 1970, and begin there. */
export interface Part {
  /** Moves on to this instant, and has the plain thresholds say what they say. */
  step(now: number, naive: Record): void;
  show(scene: Scene, now: number): void;
  /** When something happens by itself next. */
  next(now: number): number;
  troubles: Partial<{ [kind in Kind]: Trouble[] }>;
  /** Would trouble have come by this raise, had nobody made room? */
  wouldCome?: Partial<{ [kind in Kind]: (raise: Raise) => boolean }>;
}

/** Something that was prepared to happen at its time. */
export interface Happening {
  at: number;
  run: (naive: Record) => void;
}

/** Prepared happenings, in the order of their times. */
export interface Agenda {
  add(...more: Happening[]): void;
  run(now: number, naive: Record): void;
  next(): number;
}

export function agenda(): Agenda {
  const waiting: Happening[] = [];
  return {
    add(...more) {
      waiting.push(...more);
      waiting.sort((one, other) => one.at - other.at);
    },
    run(now, naive) {
      while ((waiting[0]?.at ?? Number.POSITIVE_INFINITY) <= now) waiting.shift()?.run(naive);
    },
    next: () => waiting[0]?.at ?? Number.POSITIVE_INFINITY,
  };
}
