import type { BadCopy } from '../../core/backup/backup-run.ts';
import { isVerifyOver, newVerify, type VerifyAsk, type VerifyRun, wasVerifying } from '../../core/backup/verify-run.ts';
import { messageOf } from '../../core/fault.ts';
import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { verifyFigures } from '../../core/present/snapshot-verify.ts';
import { verifySummary } from '../../core/present/verify-words.ts';
import type { BackupPair } from './backup-flow.ts';
import { keepBad } from './bad-copies.ts';
import type { Lane } from './lane.ts';
import { type VerifyDeps, verifyCopies } from './verify-copies.ts';

export interface VerifyFlowDeps extends VerifyDeps {
  pairs: readonly BackupPair[];
  lane: Lane;
  log: Log;
  /** How far it is, is told otherwise now. */
  changed: () => void;
  /** What is known of copies is to be read anew. */
  refresh: () => Promise<void>;
}

/** Copies that are read again because somebody asked. */
export interface VerifyFlow {
  /** Of each volume and shelf the last one. */
  load(): Promise<void>;
  /** `shelf`, `project`: `null` for all. What was begun, or waits; in a sentence why nothing was. */
  begin(ask: { shelf: string | null; project: string | null; anew: boolean }): Promise<VerifyAnswer>;
  view(): readonly VerifyRun[];
  /** Ends what is asked for and not through yet. What was read stays read. */
  cancel(shelf: string | null): { ended: number };
  stop(): Promise<void>;
}

export type VerifyAnswer = { begun: { volume: string; shelf: string }[] } | { problem: string };

const TELL_MS = 2_000;
/** What is found bad is looked up for who is told, which reads all copies: not more often. */
const SHOW_BAD_MS = 60_000;

export function createVerifyFlow(deps: VerifyFlowDeps): VerifyFlow {
  const { pairs, lane, store, clock, log } = deps;
  const runs = new Map<string, VerifyRun>();
  const going = new Map<string, { cancelled: AbortController; through: Promise<void> }>();
  let isStopped = false;

  /** Puts it where everybody looks; into the ledger when it is worth it. */
  async function keep(key: string, run: VerifyRun, isWorthIt: boolean): Promise<void> {
    runs.set(key, run);
    if (isWorthIt) await store.putBackupNote(key, JSON.stringify(run));
  }

  async function work(key: string, pair: BackupPair, cancelled: AbortSignal, aside: AbortSignal): Promise<boolean> {
    let told = { stage: '', at: Number.NEGATIVE_INFINITY };
    let bad: readonly BadCopy[] = [];
    let shownBad = { length: 0, at: Number.NEGATIVE_INFINITY };
    const before = runs.get(key);
    if (before === undefined) return true;
    const tell = async (run: VerifyRun, isWorthIt: boolean): Promise<void> => {
      await keep(key, run, isWorthIt);
      if (isWorthIt && run.bad !== bad && run.bad.length > 0) {
        bad = run.bad;
        await keepBad(store, run.volume, run.shelf, run.bad);
      }
      // The ledger has what was noted before.
      if (!isWorthIt && run.bad.length > shownBad.length && clock.ticks() - shownBad.at >= SHOW_BAD_MS) {
        shownBad = { length: run.bad.length, at: clock.ticks() };
        await deps.refresh();
      }
      if (run.stage === told.stage && clock.ticks() - told.at < TELL_MS) return;
      told = { stage: run.stage, at: clock.ticks() };
      deps.changed();
    };
    const run = await verifyCopies(deps, { pair, run: before }, AbortSignal.any([cancelled, aside]), tell);
    const isAside = aside.aborted && !cancelled.aborted && run.stage === 'stopped';
    await keep(key, isAside ? { ...run, stage: 'waiting', endedAt: null } : run, true);
    await deps.refresh();
    if (!isAside) {
      const fields = { volume: run.volume, shelf: run.shelf, stage: run.stage, files: run.files, gone: run.gone };
      const sentence = verifySummary(verifyFigures(run));
      if (run.stage === 'done' && run.differing + run.unread + run.gone === 0) log.info(fields, sentence);
      else log.warn({ ...fields, differing: run.differing, unread: run.unread }, sentence);
    }
    return !isAside;
  }

  function start(key: string, pair: BackupPair): void {
    const cancelled = new AbortController();
    const through = lane
      .givingWay(async (aside) => cancelled.signal.aborted || (await work(key, pair, cancelled.signal, aside)))
      .catch(async (error: unknown) => {
        log.error({ error: messageOf(error) }, 'Copies could not be read again.');
        const run = runs.get(key);
        const why = { reason: 'failed' as const, message: messageOf(error) };
        if (run !== undefined) runs.set(key, { ...run, stage: 'broken', endedAt: clock.now(), why });
      })
      .finally(() => {
        going.delete(key);
        const run = runs.get(key);
        if (run !== undefined && !isVerifyOver(run)) runs.set(key, { ...run, stage: 'stopped', endedAt: clock.now() });
        deps.changed();
      });
    going.set(key, { cancelled, through });
  }

  return {
    async load() {
      for (const pair of pairs) {
        const kept = await store.backupNote(keyOf(pair));
        if (kept !== null) runs.set(keyOf(pair), wasVerifying(JSON.parse(kept) as VerifyRun));
      }
    },
    view: () => [...runs.values()],
    async begin({ shelf, project, anew }) {
      const wanted = pairs.filter((pair) => shelf === null || pair.shelf.name === shelf);
      if (isStopped) return { problem: 'headroomd is ending' };
      if (wanted.length === 0) return { problem: noShelf(pairs, shelf) };
      const held = await withCopies(deps, wanted, project);
      if (held.length === 0) return { problem: nothingThere(shelf, project) };
      const other = held.find((pair) => going.has(keyOf(pair)) && runs.get(keyOf(pair))?.project !== project);
      if (other !== undefined) return { problem: othersGoing(other, runs.get(keyOf(other))?.project ?? null) };
      for (const pair of held) {
        const [key, { volume }] = [keyOf(pair), pair];
        if (going.has(key)) continue;
        const ask: VerifyAsk = { volume: volume.name, shelf: pair.shelf.name, project, anew };
        await keep(key, newVerify(ask, runs.get(key) ?? null, clock.now()), true);
        start(key, pair);
      }
      deps.changed();
      return { begun: held.map((pair) => ({ volume: display(pair.volume.name), shelf: display(pair.shelf.name) })) };
    },
    cancel(shelf) {
      const wanted = [...going].filter(([key]) => shelf === null || runs.get(key)?.shelf === shelf);
      for (const [, { cancelled }] of wanted) cancelled.abort();
      return { ended: wanted.length };
    },
    async stop() {
      isStopped = true;
      for (const { cancelled } of going.values()) cancelled.abort();
      await Promise.all([...going.values()].map(({ through }) => through));
    },
  };
}

const keyOf = ({ volume, shelf }: BackupPair): string => `verify ${JSON.stringify([volume.name, shelf.name])}`;

/** Those of whose copies the ledger knows any. */
async function withCopies(
  { store }: VerifyFlowDeps,
  pairs: readonly BackupPair[],
  project: string | null,
): Promise<BackupPair[]> {
  const known = await store.shelves();
  const held: BackupPair[] = [];
  for (const pair of pairs) {
    for (const { id } of known.filter(({ name }) => name === pair.shelf.name)) {
      const { files } = await store.tally({ shelf: id, volume: pair.volume.name, project }, 0);
      if (files > 0 && !held.includes(pair)) held.push(pair);
    }
  }
  return held;
}

function noShelf(pairs: readonly BackupPair[], shelf: string | null): string {
  if (pairs.length === 0) return 'no backup is configured; write a [[shelf]] and a [[backup]] into the configuration';
  const names = [...new Set(pairs.map((pair) => display(pair.shelf.name)))].join(', ');
  return `no backup goes to ${display(shelf ?? '')}; there are ${names}`;
}

function othersGoing({ shelf }: BackupPair, project: string | null): string {
  const what = project === null ? 'all copies' : `the copies of ${display(project)}`;
  return `${what} on ${display(shelf.name)} are being read again now; wait for that, or end it: headroomd backup verify ${display(shelf.name)} --end`;
}

function nothingThere(shelf: string | null, project: string | null): string {
  const of = project === null ? '' : ` of ${display(project)}`;
  return `there are no copies${of} on ${shelf === null ? 'any shelf' : display(shelf)}; "headroomd backup status" tells what lies where`;
}
