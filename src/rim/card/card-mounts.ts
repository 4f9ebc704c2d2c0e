import type { CardMount } from './protocol.ts';

/** The part of a mount that decides whether it may be a card. */
export interface MountLine extends CardMount {
  /** Unique while mounted. */
  id: number;
}

/**
 * The mounts that may be cards: below one of the folders `under`, on a block device or a FUSE file system, and not the
 * file system of a watched volume (`volumes`: mount points). A device that is mounted twice is looked at once.
 */
export function cardMounts(
  mounts: readonly MountLine[],
  under: readonly string[],
  volumes: ReadonlySet<string>,
): MountLine[] {
  const ofVolumes = new Set(mounts.filter(({ mountPoint }) => volumes.has(mountPoint)).map(({ device }) => device));
  const found = new Map<string, MountLine>();
  for (const mount of topmost(mounts)) {
    if (!under.some((folder) => isBelow(folder, mount.mountPoint))) continue;
    if (!isReal(mount) || ofVolumes.has(mount.device) || found.has(mount.device)) continue;
    found.set(mount.device, mount);
  }
  return [...found.values()];
}

/** The same mount as before, and not another one at the same place. */
export function mountKey({ id, mountPoint, device }: MountLine): string {
  return `${id} ${device} ${mountPoint}`;
}

/** Of several mounts at one place only the last can be reached. */
function topmost(mounts: readonly MountLine[]): MountLine[] {
  const last = new Map(mounts.map((mount) => [mount.mountPoint, mount]));
  return mounts.filter((mount) => last.get(mount.mountPoint) === mount);
}

/** Card readers are block devices; cards in exFAT may be FUSE on one, and cameras may be FUSE without. */
function isReal({ fileSystem, source }: MountLine): boolean {
  return source.startsWith('/dev/') || fileSystem === 'fuse' || /^fuse(?:blk$|\.)/.test(fileSystem);
}

function isBelow(folder: string, path: string): boolean {
  return path.startsWith(folder === '/' ? '/' : `${folder}/`) && path !== folder;
}
