import type { HistoryPort } from '../../core/report-ports.ts';
import type { WorkerCalls } from './worker-calls.ts';

/** The part of the store that tells of the time that has gone by. */
export function historyOver(calls: WorkerCalls): HistoryPort {
  return {
    arrived: async (span) => (await calls.call('arrived', span)).list,
    notDecoded: async (span, most) => (await calls.call('notDecoded', { span, most })).list,
    hasOlder: async (volume, at) => (await calls.call('hasOlder', { volume, at })).value,
    copiesRead: async (shelf, span) => (await calls.call('copiesRead', { shelf, span })).list,
    runs: async (span) => (await calls.call('endedRuns', span)).list,
    putRun: async (run, endedAt) => void (await calls.call('putEndedRun', { run, endedAt })),
    news: async (span) => (await calls.call('news', span)).list,
    putNews: async (news) => void (await calls.call('putNews', news)),
  };
}
