import type { Space } from '../model.ts';
import type { CapacityAssessment } from './assessment.ts';

/** Room kept free: a share (0..1) of what the user can write in all, or bytes. */
export type Reserve = { share: number } | { bytes: number };

/** Bytes in use. What a file system keeps for root counts as neither used nor available. */
export function usedBytes(space: Space): number {
  return Math.max(0, space.totalBytes - space.freeBytes);
}

/** All that the user can ever write: used now, and still available. Less than the total on ext4, which hides 5 %. */
export function writableBytes(space: Space): number {
  return usedBytes(space) + space.availableBytes;
}

/** Takes the reserve off once, here. `roomBytes` is negative when the reserve is already in use. */
export function assessCapacity(space: Space, reserve: Reserve): CapacityAssessment {
  const reserveBytes = 'bytes' in reserve ? reserve.bytes : Math.round(writableBytes(space) * reserve.share);
  return { space, reserveBytes, roomBytes: space.availableBytes - reserveBytes };
}
