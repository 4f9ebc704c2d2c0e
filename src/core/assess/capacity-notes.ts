import type { Space } from '../model.ts';
import { formatBytes, listWords } from '../units.ts';

/**
 * What the room that a file system tells does not mean, in sentences; empty where it means what it says. btrfs: btrfs-filesystem(8), "free
 * (estimated)"; ZFS: zfsprops(7), `available`, `quota`, `usedbysnapshots`; project quotas: statfs in a folder that belongs to one tells
 * the quota's limit (kernel sources, ext4_statfs_project and xfs_qm_statvfs).
 */
export function capacityNotes(
  fileSystem: string | null,
  { totalBytes, fileSystemBytes }: Space,
  sharesRoomWith: readonly string[] = [],
): string[] {
  const limit =
    fileSystemBytes === undefined
      ? []
      : [
          `A quota keeps this folder to ${formatBytes(totalBytes)} of the ${formatBytes(fileSystemBytes)} that the file system has.`,
        ];
  const shared =
    sharesRoomWith.length === 0
      ? []
      : [
          `It lies on one file system with ${listWords(sharesRoomWith)}: their room is the same room, and when it will be full is reckoned here with what comes to this one alone.`,
        ];
  const notes = [...limit, ...shared];
  return keepsDeleted(fileSystem) ? [...notes, BY_FILE_SYSTEM[fileSystem ?? ''] ?? ''] : notes;
}

/** Where snapshots may hold what is deleted, deleting may free nothing. */
export function keepsDeleted(fileSystem: string | null): boolean {
  return fileSystem !== null && Object.hasOwn(BY_FILE_SYSTEM, fileSystem);
}

const BY_FILE_SYSTEM: Readonly<Record<string, string>> = {
  btrfs:
    'What btrfs tells as free is an estimate, and snapshots keep the room of what is deleted until they are deleted too.',
  zfs: 'All datasets of a ZFS pool share its room: what is free here may go elsewhere, and snapshots keep the room of what is deleted until they are deleted too.',
};
