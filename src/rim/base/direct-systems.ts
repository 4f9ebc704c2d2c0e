/** `statfs` types, from linux/magic.h. */
const PASS_CACHE_BY: ReadonlySet<number> = new Set([
  0xef53, // ext2, ext3, ext4
  0x58465342, // XFS
  0x9123683e, // btrfs
  0xf2f52010, // F2FS
  0x2011bab0, // exFAT, the kernel's
  0x4d44, // FAT
]);

/**
 * Whether O_DIRECT on a file system of this `statfs` type reaches the drives. Others take the flag and answer from memory all the same:
 * tmpfs is memory, a FUSE program or a server has a cache of its own behind it. What is not listed is not believed.
 */
export function passesCacheBy(type: number): boolean {
  return PASS_CACHE_BY.has(type);
}
