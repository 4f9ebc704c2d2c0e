import { interleavedBps, type RotatingDisk } from './disk-time.ts';

/** What so many streams side by side were measured to read, all together, bytes per second. */
export interface StreamPoint {
  streams: number;
  readBps: number;
}

/** A disk of the kind that working volumes are made of: 7,200 turns a minute, 8.5 ms to a track. From memory. */
const WORKING_DISK: RotatingDisk = { seekSeconds: 0.0085, rpm: 7200, transferBps: 180_000_000 };

/** What a player reads at a visit. Judgement, no source: players differ, and tell nobody. */
const VISIT_BYTES = 1_048_576;

/**
 * How much of what one stream gets a volume gives, in all, to several side by side (1: as much): from measured points where there
 * are any (straight between two of them, beyond the last as there); else rotating drives pay for every move between streams, and
 * flash does not.
 */
export function streamShare(
  streams: number,
  points: readonly StreamPoint[],
  drive: 'nvme' | 'ssd' | 'hdd' | null,
): number {
  const measured = shareOfPoints(streams, points);
  if (measured !== null) return measured;
  return drive === 'hdd' ? interleavedBps(WORKING_DISK, streams, VISIT_BYTES) / WORKING_DISK.transferBps : 1;
}

function shareOfPoints(streams: number, points: readonly StreamPoint[]): number | null {
  const sorted = [...points].sort((one, other) => one.streams - other.streams);
  const one = sorted[0];
  if (one === undefined || one.streams !== 1 || one.readBps <= 0) return null;
  const after = sorted.findIndex((point) => point.streams >= streams);
  const high = sorted[after < 0 ? sorted.length - 1 : after] ?? one;
  const low = sorted[Math.max(0, (after < 0 ? sorted.length : after) - 1)] ?? one;
  if (high.streams <= low.streams || streams >= high.streams) return high.readBps / one.readBps;
  const way = (streams - low.streams) / (high.streams - low.streams);
  return (low.readBps + way * (high.readBps - low.readBps)) / one.readBps;
}
