import type { LoadPort } from '../../core/load-port.ts';
import type { PathText } from '../../core/model.ts';
import { readDiskStats, type StatsFs } from './disk-stats.ts';
import { type VolumeDevices, volumeCounters } from './volume-counters.ts';

/** What the kernel tells. `reads`: looks for files that are being read. `devices`: of a volume by name, as they are now; `null`: it has none. `ticks`: ms that do not jump. */
export function kernelLoad(
  fs: StatsFs,
  devices: (volume: string) => VolumeDevices | null,
  ticks: () => number,
  reads: () => Promise<Map<string, Set<PathText>>>,
): LoadPort {
  return {
    beingRead: () => reads().catch(() => new Map()),
    counters(volumes) {
      const stats = readDiskStats(fs);
      const at = ticks();
      return new Map(
        volumes.map((volume) => {
          const its = devices(volume);
          return [volume, its === null ? null : volumeCounters(fs, stats, its, at)];
        }),
      );
    },
  };
}
