import { resolve } from 'node:path';
import { Worker } from 'node:worker_threads';
import type { BackupStorePort, ReportedStorePort } from '../../core/backup/copies.ts';
import type { Candidate } from '../../core/cards/inventory.ts';
import type { FileStat, Instant } from '../../core/model.ts';
import type { MulticamPort } from '../../core/multicam-port.ts';
import type { MessageQueuePort, ReportQueuePort } from '../../core/notify/queue-port.ts';
import type { Log } from '../../core/ports.ts';
import type { HistoryPort } from '../../core/report-ports.ts';
import type { CataloguePort, FilesDiff, LedgerPort } from '../../core/store-ports.ts';
import { backupsOver, reportedOver } from './backups-over.ts';
import { type CardsStore, cardsOver } from './cards-over.ts';
import { historyOver } from './history-over.ts';
import type { FilePlaces, StoreNotice, WorkerSettings } from './protocol.ts';
import { type CallsMark, LOOKED_UP, WorkerCalls } from './worker-calls.ts';

export interface StoreOptions {
  /** Made with mode 0700 if it does not exist. */
  stateDir: string;
  now(): Instant;
  log: Log;
  /** Called when so many records went to the store. */
  worked?: (items: number) => void;
  /** Touched with every call. */
  mark?: CallsMark;
}

export interface Store {
  catalogue: CataloguePort;
  ledger: LedgerPort;
  cards: CardsStore;
  backups: BackupStorePort;
  reported: ReportedStorePort;
  multicam: MulticamPort;
  messages: MessageQueuePort & ReportQueuePort;
  history: HistoryPort;
  /** What opening found that a person should read. */
  notices: readonly StoreNotice[];
  /** Ends the calls under way, writes everything back and lets the state folder go. */
  close(): Promise<void>;
}

/**
 * Opens the state folder in a worker thread, for this process alone.
 *
 * Rejects with `StoreFault`: `state-locked`, `state-unwritable`, `state-full`, `state-newer`. Calls of an open store
 * reject with one of `state-full`, `state-unwritable`, `state-damaged`, `failed`, having changed nothing.
 */
export async function openStore({ stateDir, now, log, worked = () => {}, mark }: StoreOptions): Promise<Store> {
  const settings: WorkerSettings = { stateDir: resolve(stateDir), at: now() };
  // Without the flags of this process: a worker does not take all of them.
  const worker = new Worker(new URL('./worker.ts', import.meta.url), {
    name: 'store',
    workerData: settings,
    execArgv: [],
  });
  const calls = new WorkerCalls(worker, (fault) => log.error({ code: fault.code }, fault.message), worked, mark);
  const notices = await calls.opened();
  return {
    catalogue: catalogueOver(calls, () => Math.round(now())),
    ledger: ledgerOver(calls),
    cards: cardsOver(calls),
    backups: backupsOver(calls),
    reported: reportedOver(calls),
    multicam: multicamOver(calls),
    messages: messagesOver(calls),
    history: historyOver(calls),
    notices,
    close: () => calls.close(),
  };
}

function catalogueOver(calls: WorkerCalls, now: () => Instant): CataloguePort {
  return {
    async compareListing(volume, dir, files, dirs) {
      const { value, list } = await calls.call('compareListing', { volume, dir, dirs }, files);
      return { ...filesAt(files, value), gone: list };
    },
    async compareFiles(volume, files) {
      return filesAt(files, (await calls.call('compareFiles', { volume }, files)).value);
    },
    putFiles: async (files) => (await calls.call('putFiles', { at: now() }, files)).list,
    filesOfUnits: async (volume, units) => (await calls.call('filesOfUnits', { volume }, units)).list,
    async unfinished(volume, only = null, after = null) {
      const { value, list } = await calls.call('unfinished', { volume, only, after });
      return { files: list, next: value };
    },
    async filesBelow(volume, paths, only = null, after = null) {
      const { value, list } = await calls.call('filesBelow', { volume, only, after }, paths);
      return { files: list, next: value };
    },
    async finishUnit(volume, unit, files, clips, beside = []) {
      const args = { volume, unit, clips, looked: files.length, at: now() };
      await calls.call('finishUnit', args, [...files, ...beside]);
    },
    moveFiles: async (volume, moves) => (await calls.call('moveFiles', { volume, at: now() }, moves)).value,
    forget: async (volume, paths, only) =>
      (await calls.call('forget', { volume, only: only ?? null, at: now() }, paths)).value,
    async putCardLists(volume, lists) {
      await calls.call('putCardLists', { volume }, lists);
    },
    joinTakes: async () => (await calls.call('joinTakes', null)).value,
    projects: async (copies, byVolume = {}) => (await calls.call('projects', { copies, byVolume })).list,
    clips: async (query) => (await calls.call('clips', query)).list,
    footageHours: async (volume, project) =>
      (await calls.call('footageHours', { volume, project: project ?? null })).list,
    formatHours: async (volume, project) => (await calls.call('formatHours', { volume, project })).list,
    lacking: async (volume, newest) => (await calls.call('lacking', { volume, newest })).list,
    undecoded: async (volume, newest) => (await calls.call('undecoded', { volume, newest })).list,
    counts: async (volume) => (await calls.call('counts', { volume: volume ?? null })).value,
    recall: async (key) => (await calls.call('recall', { key })).value,
    async remember(key, value) {
      await calls.call('remember', { key, value });
    },
    async candidates(files) {
      const found: Candidate[][] = [];
      // A full card takes a while: others get their turn in between.
      for (let at = 0; at < files.length; at += LOOKED_UP) {
        for (const one of (await calls.call('candidates', null, files.slice(at, at + LOOKED_UP))).list) found.push(one);
      }
      return found;
    },
  };
}

function ledgerOver(calls: WorkerCalls): LedgerPort {
  return {
    condition: async () => (await calls.call('condition', null)).value,
    advisories: async () => (await calls.call('advisories', null)).list,
    async putAdvisories(advisories, messages = []) {
      await calls.call('putAdvisories', { advisories: advisories.length }, [...advisories, ...messages]);
    },
    speedSamples: async () => (await calls.call('speedSamples', null)).list,
    putSpeedSample: async (kept) => void (await calls.call('putSpeedSample', kept)),
    async growth(volume, sinceHour) {
      const { value, list } = await calls.call('growth', { volume, sinceHour });
      return { mark: value, hours: list };
    },
    putGrowth: async (volume, mark, hours) => void (await calls.call('putGrowth', { volume, mark }, [...hours])),
    moments: async (volume, grain, since) => (await calls.call('moments', { volume, grain, since })).list,
    putMoments: async (volume, grain, moments, forget) =>
      void (await calls.call('putMoments', { volume, grain, forget }, [...moments])),
    plans: async () => (await calls.call('plans', null)).list,
    putPlan: async (kept) => void (await calls.call('putPlan', kept)),
    dropPlans: async (project) => (await calls.call('dropPlans', { project })).value,
    removals: async (volume, since) => (await calls.call('removals', { volume, since })).list,
    async inventories() {
      const heads = (await calls.call('inventoryHeads', null)).list;
      const filesOf = async (id: string) => (await calls.call('inventoryFiles', { id })).list;
      return Promise.all(heads.map(async (head) => ({ ...head, files: await filesOf(head.id) })));
    },
    async putInventory({ files, ...head }) {
      await calls.call('putInventory', head, files);
    },
    dropInventory: async (id) => (await calls.call('dropInventory', { id })).value,
  };
}

function messagesOver(calls: WorkerCalls): Store['messages'] {
  return {
    resume: async (channels) => ({ dropped: (await calls.call('resumeMessages', null, channels)).value }),
    next: async (channel, least) => (await calls.call('nextMessage', { channel, least })).value,
    begin: async (seq) => void (await calls.call('beginMessage', { seq })),
    end: async (seq, end) => void (await calls.call('endMessage', { seq, end })),
    withdraw: async (advisories) => void (await calls.call('withdrawMessages', null, advisories)),
    reportsOf: async (channel, day, now) => (await calls.call('reportsOf', { channel, day, now })).value,
    beginReports: async (channel, day, now) => void (await calls.call('beginReports', { channel, day, now })),
    putReport: async (report) => (await calls.call('putReport', report)).value,
  };
}

function multicamOver(calls: WorkerCalls): MulticamPort {
  return {
    async step(volume, project, known) {
      const { value, list } = await calls.call('multicam', { volume, project, known });
      return { ...value, sessions: list };
    },
  };
}

function filesAt(files: readonly FileStat[], { fresh, moved, replacing }: FilePlaces): FilesDiff {
  return {
    fresh: pick(files, fresh),
    moved: moved.flatMap(({ place, from }) => {
      const file = files[place];
      return file === undefined ? [] : [{ file, from }];
    }),
    replacing: pick(files, replacing),
  };
}

function pick<Item>(items: readonly Item[], places: readonly number[]): Item[] {
  return places.flatMap((place) => items[place] ?? []);
}
