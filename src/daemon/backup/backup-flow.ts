import { type BackupRun, isOver, type RunCause } from '../../core/backup/backup-run.ts';
import type { BackupView, ShelfFindings, ShelfState } from '../../core/backup/backup-view.ts';
import { type KnownShelf, PROJECT_FILE_RANK, type ShelfFile, type ShelfSum } from '../../core/backup/copies.ts';
import { judgeShelf } from '../../core/backup/shelf-verdict.ts';
import { messageOf } from '../../core/fault.ts';
import type { Instant } from '../../core/model.ts';
import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { type BackupOrder, type RunDeps, runBackup } from './backup-run.ts';
import { findBad, keepBad } from './bad-copies.ts';
import type { Lane } from './lane.ts';
import { tellRun } from './tell-run.ts';
import { windowUntil } from './window-until.ts';

/** A volume and one of the shelves that hold copies of it. */
export interface BackupPair {
  volume: BackupOrder['volume'];
  shelf: BackupOrder['shelf'] & { rotate: boolean };
  rereadSeconds: number;
  /** That lists hold besides XXH64. */
  hashes: BackupOrder['hashes'];
}

/** What of a volume is on a shelf alone. */
export interface LostFiles {
  volume: BackupPair['volume'];
  shelf: BackupPair['shelf'];
  files: ShelfFile[];
}

export interface BackupAsk {
  /** `null`: all. */
  volume?: string | null;
  shelf: string | null;
  adopt: boolean;
  cause: RunCause;
  /** When it has to end, if it has to. */
  until?: Instant | null;
  /** Of `BACKUP_RANKS` this one alone. */
  onlyRank?: number;
}

/** What was begun, or waits for its turn, in words; and for each how to know it: it is the one that began at `since` or later. */
export interface BackupBegun {
  begun: string[];
  runs: { volume: string; shelf: string; since: Instant }[];
}

export interface BackupFlow {
  /** What is known of shelves and copies; before anything is judged by it. */
  load(): Promise<void>;
  start(): Promise<void>;
  view(): BackupView;
  /** Reads anew what is known of copies. */
  refresh(): Promise<void>;
  /** Backups to a shelf, or all, that were begun or wait for their turn; in a sentence why none was. */
  now(ask: BackupAsk): BackupBegun | { problem: string };
  /** Of each shelf, or one, what is left there alone; of a project, or of all. */
  lost(ask: { shelf: string | null; project: string | null }): Promise<LostFiles[]>;
  /** Ends what is under way in order; what was told before stays. */
  stop(): Promise<void>;
}

export interface BackupFlowDeps extends RunDeps {
  pairs: readonly BackupPair[];
  log: Log;
  lane: Lane;
  /** What is known elsewhere: what is to come, by volume, and what goes on beside. */
  beside: () => Pick<BackupView, 'outlooks' | 'verifications' | 'commands'>;
  /** A shelf came, went, or is another. */
  shelfChanged: () => void;
  /** A run is over, or could not be brought to an end. */
  ended: (run: BackupRun) => Promise<void>;
  /** Something is told otherwise now. `copies`: there are other copies. */
  changed: (copies: boolean) => void;
}

/** How often it is told how far a backup is. */
const TELL_MS = 2_000;
/** How often shelves are looked at while nothing is copied to them. */
const LOOK_MS = 300_000;

/** Runs backups one after the other, and keeps what is known of shelves and copies at hand. */
export function createBackupFlow(deps: BackupFlowDeps): BackupFlow {
  const { pairs, store, clock, log, changed } = deps;
  const stopped = new AbortController();
  const runs = new Map<string, BackupRun>();
  const states = new Map<string, ShelfState>();
  const waiting: (BackupOrder & { until: Instant | null })[] = [];
  let working: Promise<void> | null = null;
  let cancelLook = (): void => {};
  let sums: ShelfSum[] = [];
  let findings: ShelfFindings[] = [];

  for (const { shelf } of pairs) {
    const volumes = pairs.filter((pair) => pair.shelf.name === shelf.name).map(({ volume }) => volume.name);
    states.set(shelf.name, {
      ...{ ...shelf, volumes, state: null, message: null, lookedAt: null, known: null, full: null },
    });
  }

  async function readKnown(): Promise<void> {
    sums = await store.shelfSums();
    const known = await store.shelves();
    for (const [name, state] of states) {
      states.set(name, { ...state, known: newest(known.filter((shelf) => shelf.name === name)) });
    }
    const found: ShelfFindings[] = [];
    for (const pair of pairs) {
      found.push(await findBad(store, pair, states.get(pair.shelf.name)?.known ?? null, clock.now()));
    }
    findings = found;
  }

  async function refresh(): Promise<void> {
    await readKnown();
    changed(true);
  }

  async function look({ volume, shelf }: BackupPair): Promise<void> {
    const seen = await deps.shelves.look(shelf.path, volume.path);
    const known = await store.shelves();
    const verdict = judgeShelf({ ...shelf, look: seen, known, adopt: false });
    const [state, message] = verdict.is === 'refused' ? [verdict.reason, verdict.message] : [verdict.is, null];
    const lookedAt = clock.now();
    if (verdict.is === 'ready') {
      const { totalBytes, freeBytes } = verdict.look;
      await store.putShelf({
        id: verdict.id,
        name: shelf.name,
        drive: verdict.drive,
        seenAt: lookedAt,
        totalBytes,
        freeBytes,
      });
    }
    const mine = newest((await store.shelves()).filter(({ name }) => name === shelf.name));
    const before = states.get(shelf.name);
    if (before !== undefined) {
      const { readOnly: _, ...kept } = before;
      const now = seen.is === 'there' && seen.readOnly ? { readOnly: true as const } : {};
      states.set(shelf.name, { ...kept, ...now, state, message, lookedAt, known: mine });
    }
    if (before?.state !== state && message !== null) log.info({ shelf: shelf.name, reason: state }, message);
    changed(false);
    if (before?.state !== state) deps.shelfChanged();
  }

  async function lookAtAll(): Promise<void> {
    for (const pair of pairs) if (!stopped.signal.aborted) await look(pair);
    cancelLook = clock.after(LOOK_MS, () => void lookAtAll().catch(report));
  }

  function report(error: unknown): void {
    log.error({ error: messageOf(error) }, 'What is known of backups could not be read or kept.');
  }

  async function work(): Promise<void> {
    for (let order = waiting.shift(); order !== undefined; order = waiting.shift()) {
      if (stopped.signal.aborted) return;
      await runOne(order).catch(report);
    }
  }

  async function runOne(order: BackupOrder & { until: Instant | null }): Promise<void> {
    const key = runKey(order);
    let told = { stage: '', at: Number.NEGATIVE_INFINITY };
    const note = (run: BackupRun): void => {
      runs.set(key, run);
      // Bytes move all the time, and everything is looked at again for whoever is told.
      if (run.stage === told.stage && clock.ticks() - told.at < TELL_MS) return;
      told = { stage: run.stage, at: clock.ticks() };
      changed(false);
    };
    const window = windowUntil(order.until, clock);
    try {
      const run = await runBackup(deps, order, AbortSignal.any([stopped.signal, window.signal]), note);
      tellRun(log, run);
      await store.putBackupNote(key, JSON.stringify(run));
      await keepBad(store, run.volume, run.shelf, run.bad);
      const pair = pairs.find((one) => runKey(one) === runKey({ ...order, onlyRank: undefined }));
      if (pair !== undefined) await look(pair);
      await refresh();
    } catch (error) {
      // Else it would seem to go on for ever, and no other would begin.
      const last = runs.get(key);
      const why = { reason: 'failed' as const, message: messageOf(error) };
      if (last !== undefined) runs.set(key, { ...last, stage: 'broken', endedAt: clock.now(), why });
      throw error;
    } finally {
      window.close();
      const last = runs.get(key);
      // When the daemon ends nothing is over: the next one goes on.
      if (last !== undefined && !stopped.signal.aborted) await deps.ended(last);
    }
  }

  const flow: BackupFlow = {
    load: readKnown,
    async start() {
      for (const key of pairs.flatMap((pair) => [runKey(pair), runKey({ ...pair, onlyRank: PROJECT_FILE_RANK })])) {
        const kept = await store.backupNote(key);
        if (kept !== null) runs.set(key, wasRunning(JSON.parse(kept) as BackupRun));
      }
      await refresh();
      if (pairs.length > 0) void lookAtAll().catch(report);
    },
    view: () => ({
      ...{ shelves: [...states.values()], runs: [...runs.values()], sums, findings },
      ...deps.beside(),
    }),
    refresh,
    now({ volume = null, shelf, adopt, cause, until = null, onlyRank }) {
      const wanted = pairs.filter(
        (pair) => (shelf === null || pair.shelf.name === shelf) && (volume === null || pair.volume.name === volume),
      );
      if (wanted.length === 0) return { problem: noPair(pairs, shelf) };
      const asked: BackupBegun['runs'] = [];
      for (const pair of wanted) {
        const order = { ...pair, cause, adopt, until, ...(onlyRank === undefined ? {} : { onlyRank }) };
        const going = runs.get(runKey(order));
        asked.push({ volume: display(pair.volume.name), shelf: display(pair.shelf.name), since: firstAfter(going) });
        const isWaiting = waiting.some((other) => runKey(other) === runKey(order));
        if ((going === undefined || isOver(going)) && !isWaiting) waiting.push(order);
      }
      working ??= deps.lane.first(work).finally(() => {
        working = null;
      });
      return { begun: asked.map((one) => `${one.volume} to ${one.shelf}`), runs: asked };
    },
    async lost({ shelf, project }) {
      const known = await store.shelves();
      const found: LostFiles[] = [];
      for (const pair of pairs.filter((one) => shelf === null || one.shelf.name === shelf)) {
        const mine = newest(known.filter(({ name }) => name === pair.shelf.name));
        const files = mine === null ? [] : await store.lostFiles(pair.volume.name, project, mine.id);
        found.push({ ...pair, files });
      }
      return found;
    },
    async stop() {
      cancelLook();
      stopped.abort();
      await working;
    },
  };
  return flow;
}

/** Of a volume and a shelf the last backup is kept, and the last one of project files. */
function runKey({ volume, shelf, onlyRank }: RunOf): string {
  return `run ${JSON.stringify([volume.name, shelf.name, ...(onlyRank === undefined ? [] : [onlyRank])])}`;
}

interface RunOf {
  volume: { name: string };
  shelf: { name: string };
  onlyRank?: number | undefined;
}

/** The earliest that a run begins which is asked for now: one that goes on is that run. */
function firstAfter(last: BackupRun | undefined): Instant {
  if (last === undefined) return 0;
  return isOver(last) ? last.startedAt + 1 : last.startedAt;
}

/** Of one that was under way when the daemon ended. What it had told is in the ledger. */
function wasRunning(run: BackupRun): BackupRun {
  return isOver(run) ? run : { ...run, stage: 'stopped' };
}

function newest(shelves: readonly KnownShelf[]): KnownShelf | null {
  return shelves.toSorted((one, other) => other.seenAt - one.seenAt)[0] ?? null;
}

function noPair(pairs: readonly BackupPair[], shelf: string | null): string {
  if (pairs.length === 0) return 'no backup is configured; write a [[shelf]] and a [[backup]] into the configuration';
  const names = [...new Set(pairs.map((pair) => display(pair.shelf.name)))].join(', ');
  return `no backup goes to ${display(shelf ?? '')}; there are ${names}`;
}
