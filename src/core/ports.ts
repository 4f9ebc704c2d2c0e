import type { Advisory } from './advise/advisory.ts';
import type { Instant } from './model.ts';

/** The time. Decisions never ask it; the flows do and hand the answer in. */
export interface Clock {
  /** Wall clock, ms since 1970. May jump. */
  now(): Instant;
  /** Monotonic, ms. For waiting and for measuring. */
  ticks(): number;
  /** Calls `run` once after `ms`; the returned function cancels. */
  after(ms: number, run: () => void): () => void;
}

export interface Log {
  debug(fields: object, message: string): void;
  info(fields: object, message: string): void;
  warn(fields: object, message: string): void;
  error(fields: object, message: string): void;
}

/** Where announcements go. Never blocks, never throws. */
export interface NotifyPort {
  announce(event: 'first' | 'worse' | 'cleared' | 'reminder', advisory: Advisory): void;
}
