import type { Instant } from '../model.ts';
import type { RateEvidence } from './speed-belief.ts';

/** The strongest of one UTC day: the most under saturation, and the most of all. `null`: not seen. */
export interface DayPeak {
  day: number;
  read: { saturatedBps: number | null; reachedBps: number | null };
  write: { saturatedBps: number | null; reachedBps: number | null };
}

const DAY_MS = 86_400_000;

/** What lies further back says nothing any more beside what came since. */
const DAYS_KEPT = 60;

/**
 * Adds what was seen to the peaks of its day. One peak a day and kind, for the samples of one copy are no independent evidence. Returns
 * the same list where nothing rose.
 */
export function withPeak(
  peaks: readonly DayPeak[],
  at: Instant,
  seen: { read: RateEvidence; write: RateEvidence },
): readonly DayPeak[] {
  const day = Math.floor(at / DAY_MS);
  const today = peaks.find((peak) => peak.day === day);
  const read = raise(today?.read, seen.read);
  const write = raise(today?.write, seen.write);
  if (today !== undefined && read === today.read && write === today.write) return peaks;
  const others = peaks.filter((peak) => peak.day !== day && peak.day > day - DAYS_KEPT);
  return [...others, { day, read, write }].sort((one, other) => one.day - other.day);
}

type Peak = DayPeak['read'];

function raise(peak: Peak | undefined, { bps, source }: RateEvidence): Peak {
  const key = source === 'saturated' ? 'saturatedBps' : 'reachedBps';
  const known = peak ?? { saturatedBps: null, reachedBps: null };
  // Nothing at all is no peak, and a hair more is no news.
  if (bps <= (known[key] ?? 0) * 1.01) return known;
  return { ...known, [key]: bps };
}

/** The days' peaks as evidence, each at the end of its day or now. */
export function peakEvidence(peaks: readonly DayPeak[], now: Instant): { read: RateEvidence[]; write: RateEvidence[] } {
  const of = (direction: 'read' | 'write') =>
    peaks.flatMap((peak) => {
      const at = Math.min(now, (peak.day + 1) * DAY_MS - 1);
      const { saturatedBps, reachedBps } = peak[direction];
      const saturated = saturatedBps === null ? [] : [{ bps: saturatedBps, source: 'saturated', at } as const];
      const reached = reachedBps === null ? [] : [{ bps: reachedBps, source: 'reached', at } as const];
      return [...saturated, ...reached];
    });
  return { read: of('read'), write: of('write') };
}
