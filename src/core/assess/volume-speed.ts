import { expectedSpeed, type SpeedLayout } from './expected-speed.ts';
import { type BelievedRate, believedRate, type RateEvidence } from './speed-belief.ts';
import type { StreamPoint } from './stream-share.ts';

/** Speed of a volume as its owner stated it, bytes per second. */
export interface DeclaredSpeed {
  readBps: number;
  writeBps: number;
}

/** What is known of a volume's speed from before and from looking at it. */
export interface SpeedKnowledge {
  declared: DeclaredSpeed | null;
  /** Declared or detected; `null`: neither. */
  layout: SpeedLayout | null;
  /** Share of the room that is in use, 0..1; `null`: not known. */
  filled: number | null;
  /** What was measured and seen at work while it was put together as it is now. */
  read: readonly RateEvidence[];
  write: readonly RateEvidence[];
  /** Of the last measurement: several streams side by side. */
  points: readonly StreamPoint[];
}

/** What a volume gives, nothing taken off. */
export interface VolumeGives {
  read: BelievedRate;
  write: BelievedRate;
  points: readonly StreamPoint[];
  drive: SpeedLayout['drive'] | null;
}

/** A rotating disk reads at about half the speed on its innermost tracks, which are filled last. From memory. */
const LOST_WHEN_FULL = 0.5;

/** What a volume gives to one stream, by all that is known; `null`: nothing is. */
export function volumeGives(known: SpeedKnowledge, now: number): VolumeGives | null {
  const expected = known.layout === null ? null : expectedSpeed(known.layout);
  const left = 1 - fillCost(known.layout?.drive ?? null, known.filled ?? 0);
  const evidence = (direction: 'readBps' | 'writeBps', seen: readonly RateEvidence[]): RateEvidence[] => [
    ...(known.declared === null ? [] : [{ bps: known.declared[direction], source: 'declared', at: null } as const]),
    ...(expected === null ? [] : [{ bps: expected[direction] * left, source: 'layout', at: null } as const]),
    ...seen,
  ];
  const read = believedRate(evidence('readBps', known.read), now);
  const write = believedRate(evidence('writeBps', known.write), now);
  return read === null || write === null
    ? null
    : { read, write, points: known.points, drive: known.layout?.drive ?? null };
}

/** Share of its speed that a volume which is filled so far (0..1) has lost, beside an empty one. */
export function fillCost(drive: SpeedLayout['drive'] | null, filled: number): number {
  return drive === 'hdd' ? LOST_WHEN_FULL * filled : 0;
}
