import type { SmartReport } from './assess/drive-signs.ts';
import type { StorageStack } from './assess/storage-stack.ts';

/** What volumes lie on. Neither rejects. */
export interface DrivePort {
  /** As it is now; `null`: the volume is not mounted, or nothing is told of it. */
  stack(volume: string): Promise<StorageStack | null>;
  /** What a drive tells of itself; `null`: the program is not there, may not ask, or the drive sleeps. */
  smart(drive: string): Promise<SmartReport | null>;
}
