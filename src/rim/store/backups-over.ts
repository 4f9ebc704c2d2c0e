import type { BackupStorePort, ReportedStorePort } from '../../core/backup/copies.ts';
import type { WorkerCalls } from './worker-calls.ts';

/** The part of the store that knows of copies. */
export function backupsOver(calls: WorkerCalls): BackupStorePort {
  return {
    shelves: async () => (await calls.call('shelves', null)).list,
    putShelf: async (shelf) => void (await calls.call('putShelf', shelf)),
    async backlog(volume, shelf, rank, after) {
      const { value, list } = await calls.call('backlog', { volume, shelf, rank, after });
      return { files: list, next: value };
    },
    backlogSum: async (volume, shelf) => (await calls.call('backlogSum', { volume, shelf })).value,
    putCopies: async (copies) => void (await calls.call('putCopies', null, [...copies])),
    putVersions: async (versions) => void (await calls.call('putVersions', null, [...versions])),
    moveCopy: async (shelf, from, to) => void (await calls.call('moveCopy', { shelf, from, to })),
    stalest: async (scope, before, after, most) => (await calls.call('stalest', { scope, before, after, most })).list,
    tally: async (scope, before) => (await calls.call('tally', { scope, before })).value,
    lateCopies: async (shelf, volume, before) => (await calls.call('lateCopies', { shelf, volume, before })).value,
    goodCopies: async (content) => (await calls.call('goodCopies', content)).list,
    unlisted: async (shelf, volume, most) => (await calls.call('unlisted', { shelf, volume, most })).list,
    putListed: async (shelf, paths) => void (await calls.call('putListed', { shelf }, [...paths])),
    altered: async (shelf, volume) => (await calls.call('altered', { shelf, volume })).list,
    badCopies: async (shelf, volume, most) => (await calls.call('badCopies', { shelf, volume, most })).list,
    dropCopies: async (shelf, paths) => void (await calls.call('dropCopies', { shelf }, [...paths])),
    putReads: async (shelf, reads) => void (await calls.call('putReads', { shelf }, [...reads])),
    shelfSums: async () => (await calls.call('shelfSums', null)).list,
    async projectCopies(wanted, readSince) {
      const { value, list } = await calls.call('projectCopies', { wanted, readSince });
      return value === 'lost' ? null : list;
    },
    lostFiles: async (volume, project, shelf) => (await calls.call('lostFiles', { volume, project, shelf })).list,
    backupNote: async (key) => (await calls.call('backupNote', { key })).value,
    putBackupNote: async (key, text) => void (await calls.call('putBackupNote', { key, text })),
  };
}

/** The part of the store that knows what programs say that they copied. */
export function reportedOver(calls: WorkerCalls): ReportedStorePort {
  return {
    async unreported(volume, name, rank, after) {
      const { value, list } = await calls.call('unreported', { volume, name, rank, after });
      return { files: list, next: value };
    },
    putReported: async (copies) => void (await calls.call('putReported', null, [...copies])),
    unreadReports: async (volume, name, most) => (await calls.call('unreadReports', { volume, name, most })).list,
    settleReports: async (reports) => void (await calls.call('settleReports', null, [...reports])),
    reportedSums: async () => (await calls.call('reportedSums', null)).list,
  };
}
