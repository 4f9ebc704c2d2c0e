import { messageOf } from '../../core/fault.ts';
import { anotherDrive, areDifferent, type DriveFs, type DriveIdentity, type KnownMount } from './drive.ts';
import { stampsOf } from './stamps.ts';

/** The part of `node:fs` that this takes. */
export type RootFs = DriveFs & Pick<typeof import('node:fs'), 'realpathSync'>;

/** What is asked of the mount table; rim/volume answers it. */
export interface MountView {
  id: number;
  mountPoint: string;
  fileSystem: string;
  /** What was mounted. */
  source: string;
  /** Writers may be invisible to us. */
  remote: boolean;
}

export interface RootFound {
  /** Absolute, without links. */
  base: string;
  device: bigint;
  /** 0 where inodes do not last. */
  ino: bigint;
  mount: MountView | null;
}

export type RootLook = { present: true; root: RootFound } | { present: false; detail: string };

/**
 * Looks where a root is now. The call that hangs on a hung mount hangs here, first. A folder that is the one `watched` on
 * the same mount is where it was: its path is not followed again, which once a second is most of what a look costs.
 */
export function lookAtRoot(
  fs: RootFs,
  root: string,
  mountOf: (path: string) => MountView | null,
  watched: RootFound | null = null,
): RootLook {
  try {
    const stat = fs.statSync(root, { bigint: true });
    if (!stat.isDirectory()) return { present: false, detail: 'there is a file in place of the folder' };
    if (watched !== null && watched.device === stat.dev && watched.ino === stat.ino) {
      const mount = mountOf(watched.base);
      if (mount?.id === watched.mount?.id) return { present: true, root: watched };
    }
    const base = fs.realpathSync.native(root);
    const mount = mountOf(base);
    const ino = stampsOf(mount?.fileSystem).inodes ? stat.ino : 0n;
    return { present: true, root: { base, device: stat.dev, ino, mount } };
  } catch (thrown) {
    const error = thrown as NodeJS.ErrnoException;
    if (error.code === 'ENOENT' || error.code === 'ENOTDIR')
      return { present: false, detail: 'the folder does not exist' };
    return { present: false, detail: `the folder cannot be reached: ${messageOf(error).replace(/,[^,]*$/, '')}` };
  }
}

export type RootVerdict =
  | { is: 'absent'; detail: string }
  /** The very same folder on the same mount. */
  | { is: 'same' }
  /** Another folder, device or mount than before: watches on it are deaf. */
  | { is: 'renewed'; root: RootFound; drive: DriveIdentity | null };

/**
 * Compares a look with what was watched before (`null`: nothing) and with the mount that the root is known to lie on.
 *
 * When a volume is unmounted, the folder it was mounted on comes to light, empty or not, on the file system below. It
 * must not be taken for the volume: a root whose mount point is now a shorter one is absent. A longer one means that a
 * volume has been mounted where only a folder was, and the root is renewed. Another drive at the known mount point is
 * not the volume either: what is known of the volume's files is not to be forgotten for what is not on that drive.
 */
export function judgeRoot(
  look: RootLook,
  watched: RootFound | null,
  { mountPoint, drive: expected }: KnownMount,
  identify: (mount: MountView) => DriveIdentity | null,
): RootVerdict {
  if (!look.present) return { is: 'absent', detail: look.detail };
  const { root } = look;
  const current = root.mount?.mountPoint ?? null;
  if (mountPoint !== null && current !== null && current !== mountPoint && current.length < mountPoint.length) {
    return { is: 'absent', detail: `nothing is mounted at ${mountPoint}` };
  }
  const same =
    watched !== null &&
    watched.base === root.base &&
    watched.device === root.device &&
    watched.ino === root.ino &&
    watched.mount?.id === root.mount?.id;
  if (same) return { is: 'same' };
  const drive = root.mount === null ? null : identify(root.mount);
  if (current === mountPoint && areDifferent(expected, drive)) {
    return { is: 'absent', detail: anotherDrive(expected, drive) };
  }
  return { is: 'renewed', root, drive };
}
