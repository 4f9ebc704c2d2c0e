import type { FileStat } from '../../core/model.ts';

/** What of a file's identity a file system keeps over remounts. */
export interface Stamps {
  inodes: boolean;
  changeTimes: boolean;
}

export const ALL_STAMPS: Stamps = { inodes: true, changeTimes: true };

/** No inodes on the medium: the driver numbers the files as it comes across them, and anew after each mount. */
const FAT = new Set(['vfat', 'msdos', 'exfat']);

/**
 * FUSE numbers files in the same way unless its file system says otherwise, which cannot be seen from here. FAT has no
 * time of change: what is told for one is the time of content once the file is read from the medium again.
 */
export function stampsOf(fileSystem: string | undefined): Stamps {
  if (fileSystem === undefined) return ALL_STAMPS;
  const fat = FAT.has(fileSystem);
  const fuse = fileSystem === 'fuse' || fileSystem === 'fuseblk' || fileSystem.startsWith('fuse.');
  return { inodes: !fat && !fuse, changeTimes: !fat };
}

/** A stat with what cannot be trusted blanked: inode 0 (and one link, for links are told apart by inode), content's time. */
export function trustworthy(stat: FileStat, stamps: Stamps): FileStat {
  if (stamps.inodes && stamps.changeTimes) return stat;
  return {
    ...stat,
    ...(stamps.inodes ? {} : { ino: 0n, nlink: 1 }),
    ...(stamps.changeTimes ? {} : { ctimeNs: stat.mtimeNs }),
  };
}
