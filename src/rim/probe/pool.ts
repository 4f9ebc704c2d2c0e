import { setTimeout as delay } from 'node:timers/promises';
import type { Structure } from '../../core/intake/container/structure.ts';
import type { FileStat } from '../../core/model.ts';
import type { ProbeOutcome } from '../../core/root-port.ts';
import { type Answer, DEFAULT_LIMITS, type ProbeLimits } from './hand.ts';
import { createSeat, type Seat } from './seat.ts';

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
  const seats = Array.from({ length: Math.max(1, options.workers ?? 1) }, () => createSeat(limits, options.now));
  const busy = new Set<Seat>();
  const waiting: Waiting[] = [];
  const banned = new Map<string, ProbeOutcome>();
  let closed = false;

  function pump(): void {
    for (const seat of seats) {
      if (busy.has(seat)) continue;
      const next = nextInLine();
      if (next === null) return;
      void serve(seat, next);
    }
  }

  function nextInLine(): Waiting | null {
    for (let next = waiting.shift(); next !== undefined; next = waiting.shift()) {
      const known = banned.get(keyOf(next.stat));
      if (known === undefined) return next;
      next.resolve(known.ok ? { ...known, stat: next.stat } : known);
    }
    return null;
  }

  async function serve(seat: Seat, { path, stat, resolve }: Waiting): Promise<void> {
    busy.add(seat);
    const answer = await seat.run({ path, stat });
    const outcome = outcomeOf(answer, stat);
    if (answer.verdict.type === 'killed') banFile(banned, stat, outcome);
    resolve(outcome);
    await seat.tidied();
    busy.delete(seat);
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
      const patience = new AbortController();
      await Promise.race([
        Promise.allSettled(seats.map((seat) => seat.clear())),
        delay(CLOSE_MS, undefined, { ref: false, signal: patience.signal }).catch(() => undefined),
      ]);
      patience.abort();
    },
  };
}

function banFile(banned: Map<string, ProbeOutcome>, stat: FileStat, outcome: ProbeOutcome): void {
  banned.set(keyOf(stat), outcome);
  const [oldest] = banned.keys();
  if (banned.size > MOST_BANNED && oldest !== undefined) banned.delete(oldest);
}

/** The same content, as far as can be told without reading it. */
function keyOf({ dev, ino, size, mtimeNs }: FileStat): string {
  return `${dev} ${ino} ${size} ${mtimeNs}`;
}

/** Where the container told of picture or sound that is an answer, whatever became of the library. */
function outcomeOf({ verdict, structure }: Answer, stat: FileStat): ProbeOutcome {
  if (verdict.type === 'stuck') return { ok: false, reason: 'unreadable', detail: verdict.detail };
  if (verdict.type === 'not-run') return failed(verdict.detail);
  if (verdict.type === 'killed') {
    const detail = `${verdict.detail}; it is not tried again until it changes`;
    return structure === null ? failed(detail) : ofStructure(structure, detail, stat);
  }
  const { outcome } = verdict;
  if (outcome.ok) return { ...outcome, raw: { ...outcome.raw, structure } };
  const isOfLibrary = outcome.reason === 'probe-failed' || outcome.reason === 'not-media';
  return structure !== null && isOfLibrary ? ofStructure(structure, outcome.detail, stat) : outcome;
}

function ofStructure(structure: Structure, readerTrouble: string, stat: FileStat): ProbeOutcome {
  return { ok: true, raw: { structure, tracks: [], readerTrouble }, stat };
}

function failed(detail: string): ProbeOutcome {
  return { ok: false, reason: 'probe-failed', detail };
}
