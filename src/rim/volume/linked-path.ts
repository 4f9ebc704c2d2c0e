import { posix } from 'node:path';
import { findMount, type Mount } from './mount.ts';

/** The part of `node:fs` that resolving takes; tests hand in another one. */
export interface LinkFs {
  readlinkSync(path: string): string;
}

/** As many links as Linux follows in one path: path_resolution(7). */
const MOST_LINKS = 40;

/**
 * An absolute path with its symbolic links followed, as far as that can be done without touching a mount that may hang:
 * below a remote mount or one that a process serves, and at mount points (which are folders), nothing is looked at. What
 * cannot be read is no link.
 */
export function resolveLinks(path: string, mounts: readonly Mount[], fs: LinkFs): string {
  let left = namesOf(path);
  let resolved = '/';
  let links = 0;
  for (let name = left.shift(); name !== undefined; name = left.shift()) {
    const next = posix.join(resolved, name);
    const target = links < MOST_LINKS ? targetOf(next, mounts, fs) : null;
    if (target === null) resolved = next;
    else {
      links += 1;
      left = [...namesOf(posix.resolve(resolved, target)), ...left];
      resolved = '/';
    }
  }
  return resolved;
}

function targetOf(path: string, mounts: readonly Mount[], fs: LinkFs): string | null {
  if (mounts.some(({ mountPoint }) => mountPoint === path) || mayHang(findMount(mounts, path))) return null;
  try {
    return fs.readlinkSync(path);
  } catch {
    return null;
  }
}

/** `fuseblk` counts as local for its writers, but who asks it still waits for a process. */
function mayHang(mount: Mount | null): boolean {
  return mount === null || mount.remote || mount.fileSystem.startsWith('fuse');
}

function namesOf(path: string): string[] {
  return posix
    .normalize(path)
    .split('/')
    .filter((name) => name !== '');
}
