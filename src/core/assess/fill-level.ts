import type { VolumeAssessment } from './assessment.ts';
import { fillCost } from './volume-speed.ts';

/** What a volume will give when it is filled up to its reserve, of what it gives now (1: as much). */
export function leftWhenFull({ capacity, speed }: Pick<VolumeAssessment, 'capacity' | 'speed'>): number {
  const drive = speed.gives?.drive ?? null;
  if (capacity === null || capacity.space.totalBytes <= 0) return 1;
  const { totalBytes, freeBytes } = capacity.space;
  const share = (freeThen: number) => 1 - fillCost(drive, (totalBytes - freeThen) / totalBytes);
  return Math.min(1, share(Math.min(freeBytes, capacity.reserveBytes)) / share(freeBytes));
}
