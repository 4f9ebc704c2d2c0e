import type { VolumeCounters } from '../../core/assess/disk-load.ts';
import { type DiskCounters, readNfsBytes, readProcessBytes, readSmbBytes, type StatsFs } from './disk-stats.ts';

/** Which devices a volume lies on, each by kernel name or `major:minor`, and which of our processes work on it alone. */
export interface VolumeDevices {
  /** The device of the file system; where it has none of its own (btrfs), its members are added up. */
  top: string | null;
  /** Whole drives. */
  drives: readonly string[];
  /** How often each byte is written on the members, together (2: mirrored). Counts only where they are added up. */
  copies: number;
  pids: readonly number[];
  /** A network volume has no drives: what went over the wire counts. */
  network?: { kind: 'nfs'; mountPoint: string } | { kind: 'smb'; source: string } | null;
}

/** Counters of a volume at `atMs` from what `readDiskStats` told; `null` where it tells nothing of its devices. */
export function volumeCounters(
  fs: StatsFs,
  stats: ReadonlyMap<string, DiskCounters>,
  { top, drives, copies, pids, network = null }: VolumeDevices,
  atMs: number,
): VolumeCounters | null {
  const members = drives.flatMap((name) => stats.get(name) ?? []);
  const whole = top === null ? null : (stats.get(top) ?? null);
  const moved = network === null ? (whole ?? together(members, copies)) : overTheWire(fs, network);
  if (moved === null) return null;
  const own = pids.flatMap((pid) => readProcessBytes(fs, pid) ?? []);
  return {
    atMs,
    readBytes: moved.readBytes,
    writtenBytes: moved.writtenBytes,
    drives: (members.length === 0 ? [whole] : members).flatMap((one) => one ?? []),
    own: {
      readBytes: own.reduce((sum, { readBytes }) => sum + readBytes, 0),
      writtenBytes: own.reduce((sum, { writtenBytes }) => sum + writtenBytes, 0),
    },
  };
}

function overTheWire(
  fs: StatsFs,
  network: NonNullable<VolumeDevices['network']>,
): Pick<DiskCounters, 'readBytes' | 'writtenBytes'> | null {
  return network.kind === 'nfs' ? readNfsBytes(fs, network.mountPoint) : readSmbBytes(fs, network.source);
}

function together(
  members: readonly DiskCounters[],
  copies: number,
): Pick<DiskCounters, 'readBytes' | 'writtenBytes'> | null {
  if (members.length === 0) return null;
  const sum = (of: 'readBytes' | 'writtenBytes') => members.reduce((total, member) => total + member[of], 0);
  return { readBytes: sum('readBytes'), writtenBytes: sum('writtenBytes') / copies };
}
