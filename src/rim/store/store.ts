import { resolve } from 'node:path';
import { Worker } from 'node:worker_threads';
import type { Instant } from '../../core/model.ts';
import type { CataloguePort, LedgerPort, Log } from '../../core/ports.ts';
import type { StoreNotice, WorkerSettings } from './protocol.ts';
import { WorkerCalls } from './worker-calls.ts';

export interface StoreOptions {
  /** Made with mode 0700 if it does not exist. */
  stateDir: string;
  now(): Instant;
  log: Log;
}

export interface Store {
  catalogue: CataloguePort;
  ledger: LedgerPort;
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
export async function openStore({ stateDir, now, log }: StoreOptions): Promise<Store> {
  const settings: WorkerSettings = { stateDir: resolve(stateDir), at: now() };
  // Without the flags of this process: a worker does not take all of them.
  const worker = new Worker(new URL('./worker.ts', import.meta.url), {
    name: 'store',
    workerData: settings,
    execArgv: [],
  });
  const calls = new WorkerCalls(worker, (fault) => log.error({ code: fault.code }, fault.message));
  const notices = await calls.opened();
  return {
    catalogue: catalogueOver(calls, () => Math.round(now())),
    ledger: ledgerOver(calls),
    notices,
    close: () => calls.close(),
  };
}

function catalogueOver(calls: WorkerCalls, now: () => Instant): CataloguePort {
  return {
    async compareListing(volume, dir, files, dirs) {
      const { value, list } = await calls.call('compareListing', { volume, dir, dirs }, files);
      return { fresh: pick(files, value), gone: list };
    },
    async compareFiles(volume, files) {
      return pick(files, (await calls.call('compareFiles', { volume }, files)).value);
    },
    async putFiles(files) {
      await calls.call('putFiles', { at: now() }, files);
    },
    filesOfUnit: async (volume, unit) => (await calls.call('filesOfUnit', { volume, unit })).list,
    unfinished: async (volume) => (await calls.call('unfinished', { volume })).list,
    async finishUnit(volume, unit, files, clips) {
      await calls.call('finishUnit', { volume, unit, clips, at: now() }, files);
    },
    forget: async (volume, paths) => (await calls.call('forget', { volume, at: now() }, paths)).value,
    projects: async (wantedCopies) => (await calls.call('projects', { wantedCopies })).list,
    clips: async (query) => (await calls.call('clips', query)).list,
    counts: async (volume) => (await calls.call('counts', { volume: volume ?? null })).value,
    recall: async (key) => (await calls.call('recall', { key })).value,
    async remember(key, value) {
      await calls.call('remember', { key, value });
    },
  };
}

function ledgerOver(calls: WorkerCalls): LedgerPort {
  return {
    condition: async () => (await calls.call('condition', null)).value,
    advisories: async () => (await calls.call('advisories', null)).list,
    async putAdvisories(advisories) {
      await calls.call('putAdvisories', null, advisories);
    },
  };
}

function pick<Item>(items: readonly Item[], places: readonly number[]): Item[] {
  return places.flatMap((place) => items[place] ?? []);
}
