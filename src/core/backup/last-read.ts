import type { Instant } from '../model.ts';
import type { BackupView } from './backup-view.ts';

/** When a copy of a volume's footage was last read back; `null`: none is known of. */
export function lastRead({ sums }: BackupView, volume: string): Instant | null {
  const newest = sums.flatMap((sum) => (sum.volume === volume ? (sum.newestReadAt ?? []) : []));
  return newest.length === 0 ? null : Math.max(...newest);
}
