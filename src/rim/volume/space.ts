import type { Space } from '../../core/model.ts';

/** The part of `node:fs` that this takes. */
export interface SpaceFs {
  statfsSync(path: string, options: { bigint: true }): { bsize: bigint; blocks: bigint; bfree: bigint; bavail: bigint };
}

/** What of a mount this takes. */
export interface SpaceMount {
  mountPoint: string;
  readOnly: boolean;
  viewOnly?: true;
}

/**
 * Room on the file system that holds `path`, in bytes. `availableBytes` is what a user can still write: ext4 keeps 5 %
 * of `freeBytes` for root. `mount`: that of the file system; its root tells more than the folder where a quota limits the folder.
 * Throws what statfs throws; on a hung mount it hangs, so it belongs into the root's process.
 */
export function readSpace(fs: SpaceFs, path: string, mount: SpaceMount | null = null): Space {
  const found = fs.statfsSync(path, { bigint: true });
  const bytes = (blocks: bigint) => Number(blocks * found.bsize);
  const space: Space = {
    ...{ totalBytes: bytes(found.blocks), freeBytes: bytes(found.bfree), availableBytes: bytes(found.bavail) },
    ...(mount?.readOnly === true && mount.viewOnly !== true ? { readOnly: true } : {}),
  };
  const whole = mount === null ? null : fs.statfsSync(mount.mountPoint, { bigint: true });
  if (whole === null || whole.blocks * whole.bsize <= found.blocks * found.bsize) return space;
  return { ...space, fileSystemBytes: Number(whole.blocks * whole.bsize) };
}
