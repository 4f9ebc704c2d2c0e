import { setTimeout as delay } from 'node:timers/promises';
import type { FileStat } from '../../core/model.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';
import { DEFAULT_LIMITS, type Hand, hireHand, type ProbeLimits, type Verdict } from './hand.ts';

/** Asks the probe library about files, in worker threads that are ended when a file holds them up. */
export interface Prober {
  /**
   * Never rejects. `path` is absolute; `stat` is how the file was last seen: when it is no longer so, before or after the
   * reading, the outcome is `changed-meanwhile`. `detail` names no path.
   */
  probe(path: Buffer | string, stat: FileStat): Promise<ProbeOutcome>;
  /** Ends the workers; what is waiting or under way comes out as `probe-failed`. */
  close(): Promise<void>;
}

interface Waiting {
  path: Buffer | string;
  stat: FileStat;
  resolve(outcome: ProbeOutcome): void;
}

interface Seat {
  hand: Hand | null;
  busy: boolean;
}

/** Files remembered as harmful; the oldest are forgotten. */
const MOST_BANNED = 10_000;

/** How long `close` waits for threads that hang in a system call and cannot be ended. */
const CLOSE_MS = 2_000;

/**
 * @param workers threads that read at the same time; each is made when it is first needed
 * @param now monotonic, ms
 */
export function createProber(options: { workers?: number; limits?: Partial<ProbeLimits>; now: () => number }): Prober {
  const limits = { ...DEFAULT_LIMITS, ...options.limits };
  const seats: Seat[] = Array.from({ length: Math.max(1, options.workers ?? 1) }, () => ({ hand: null, busy: false }));
  const waiting: Waiting[] = [];
  const banned = new Map<string, string>();
  const leaving = new Set<Promise<void>>();
  let closed = false;

  function dismiss(seat: Seat): void {
    const ended = seat.hand?.end();
    seat.hand = null;
    if (ended === undefined) return;
    leaving.add(ended);
    void ended.finally(() => leaving.delete(ended));
  }

  function pump(): void {
    for (const seat of seats) {
      if (seat.busy) continue;
      const next = waiting.shift();
      if (next === undefined) return;
      void serve(seat, next);
    }
  }

  async function serve(seat: Seat, { path, stat, resolve }: Waiting): Promise<void> {
    seat.busy = true;
    const ban = banned.get(keyOf(stat));
    if (ban !== undefined) resolve(failed(`${ban}; it is not tried again until it changes`));
    else {
      if (seat.hand?.spent()) dismiss(seat);
      seat.hand ??= hireHand(limits, options.now);
      const verdict = await seat.hand.run({ path, stat });
      if (seat.hand?.spent()) dismiss(seat);
      if (verdict.type === 'killed') banFile(banned, stat, verdict.detail);
      resolve(outcomeOf(verdict));
    }
    seat.busy = false;
    pump();
  }

  return {
    probe(path, stat) {
      if (closed) return Promise.resolve(failed('the media reader is closed'));
      return new Promise((resolve) => {
        waiting.push({ path, stat, resolve });
        pump();
      });
    },
    async close() {
      closed = true;
      for (const { resolve } of waiting.splice(0)) resolve(failed('the media reader is closed'));
      for (const seat of seats) dismiss(seat);
      const patience = new AbortController();
      await Promise.race([
        Promise.allSettled(leaving),
        delay(CLOSE_MS, undefined, { ref: false, signal: patience.signal }).catch(() => undefined),
      ]);
      patience.abort();
    },
  };
}

function banFile(banned: Map<string, string>, stat: FileStat, detail: string): void {
  banned.set(keyOf(stat), detail);
  const [oldest] = banned.keys();
  if (banned.size > MOST_BANNED && oldest !== undefined) banned.delete(oldest);
}

/** The same content, as far as can be told without reading it. */
function keyOf({ dev, ino, size, mtimeNs }: FileStat): string {
  return `${dev} ${ino} ${size} ${mtimeNs}`;
}

function outcomeOf(verdict: Verdict): ProbeOutcome {
  return verdict.type === 'answered' ? verdict.outcome : failed(verdict.detail);
}

function failed(detail: string): ProbeOutcome {
  return { ok: false, reason: 'probe-failed', detail };
}
