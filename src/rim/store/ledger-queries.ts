import type { DatabaseSync } from 'node:sqlite';
import type { NewMessage } from '../../core/notify/queue-port.ts';
import type { StoredAdvisory } from '../../core/store-ports.ts';
import type { MessageRows } from './message-rows.ts';
import { inTransaction } from './transaction.ts';

export interface LedgerQueries {
  isLost(): boolean;
  advisories(): StoredAdvisory[];
  /** Replaces all that were stored, and puts what channels are to be told of it: both, or neither. */
  putAdvisories(advisories: readonly StoredAdvisory[], messages: readonly NewMessage[]): void;
}

export function openLedgerQueries(database: DatabaseSync, queue: Pick<MessageRows, 'put'>): LedgerQueries {
  const lost = database.prepare("SELECT 1 FROM ledger.meta WHERE key = 'lost'");
  const all = database.prepare('SELECT id, json FROM ledger.advisory_state ORDER BY rowid');
  const clear = database.prepare('DELETE FROM ledger.advisory_state');
  const put = database.prepare(`
    INSERT INTO ledger.advisory_state (id, json) VALUES (?, ?) ON CONFLICT (id) DO UPDATE SET json = excluded.json`);
  return {
    isLost: () => lost.get() !== undefined,
    advisories: () => all.all().map((row) => ({ id: String(row['id']), json: String(row['json']) })),
    putAdvisories(advisories, messages) {
      inTransaction(database, () => {
        clear.run();
        for (const { id, json } of advisories) put.run(id, json);
        queue.put(messages);
      });
    },
  };
}
