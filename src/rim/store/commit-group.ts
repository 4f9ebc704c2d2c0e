import type { DatabaseSync } from 'node:sqlite';
import type { MethodName } from './protocol.ts';

/** Writes that are stored together with those that wait behind them: each alone would write the same pages again. */
const BEGIN: ReadonlySet<MethodName> = new Set(['putFiles', 'finishUnit']);
/** What may be done in between, in its order. All else waits until the group is stored. */
const JOIN: ReadonlySet<MethodName> = new Set([...BEGIN, 'compareListing', 'compareFiles', 'filesOfUnits']);

/** So many calls make up a group at the most. */
const LIMIT = 200;

interface Held {
  done: () => void;
  failed: (error: unknown) => void;
}

/**
 * Calls that came in together share one transaction, and are answered when it is stored: what was answered is kept. One that
 * fails undoes only what is its own (`inTransaction`).
 */
export interface CommitGroup {
  /** To be called before each call: it begins a group, joins the one that is open, or waits until that is stored. */
  prepare(method: MethodName): void;
  /** The call is through: it is answered with its group, or at once where there is none. */
  hold(call: Held): void;
  /** A call failed. Of some errors SQLite has undone the whole group by itself. */
  failed(error: unknown): void;
  /** Stores what is open. */
  end(): void;
}

export function openCommitGroup(database: DatabaseSync): CommitGroup {
  let held: Held[] | null = null;

  function end(): void {
    if (held === null) return;
    const calls = held;
    held = null;
    try {
      database.exec('COMMIT');
    } catch (error) {
      if (database.isTransaction) database.exec('ROLLBACK');
      for (const { failed } of calls) failed(error);
      return;
    }
    for (const { done } of calls) done();
  }

  return {
    prepare(method) {
      if (held !== null && !JOIN.has(method)) end();
      if (held !== null || !BEGIN.has(method)) return;
      database.exec('BEGIN');
      held = [];
      // Messages that wait already are taken first.
      setImmediate(end);
    },
    hold(call) {
      if (held === null) return call.done();
      held.push(call);
      if (held.length >= LIMIT) end();
    },
    failed(error) {
      if (held === null || database.isTransaction) return;
      const calls = held;
      held = null;
      for (const { failed } of calls) failed(error);
    },
    end,
  };
}
