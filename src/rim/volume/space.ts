import type { Space } from '../../core/model.ts';

/** The part of `node:fs` that this takes. */
export interface SpaceFs {
  statfsSync(path: string, options: { bigint: true }): { bsize: bigint; blocks: bigint; bfree: bigint; bavail: bigint };
}

/**
 * Room on the file system that holds `path`, in bytes. `availableBytes` is what a user can still write: ext4 keeps 5 %
 * of `freeBytes` for root. Throws what statfs throws; on a hung mount it hangs, so it belongs into the root's process.
 */
export function readSpace(fs: SpaceFs, path: string): Space {
  const found = fs.statfsSync(path, { bigint: true });
  const bytes = (blocks: bigint) => Number(blocks * found.bsize);
  return { totalBytes: bytes(found.blocks), freeBytes: bytes(found.bfree), availableBytes: bytes(found.bavail) };
}
