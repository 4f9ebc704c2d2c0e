import type { DatabaseSync } from 'node:sqlite';
import type { KeptCard } from '../../core/cards/kept-card.ts';

export interface KeptCardRows {
  all(): KeptCard[];
  put(kept: KeptCard): void;
  /** False: nothing was said of it. */
  drop(inventory: string): boolean;
}

export function openKeptCards(database: DatabaseSync): KeptCardRows {
  const all = database.prepare(
    'SELECT inventory, said_at AS saidAt, said_by AS saidBy, ended_at AS endedAt, lacking FROM ledger.kept_card ORDER BY inventory',
  );
  const put = database.prepare('INSERT OR REPLACE INTO ledger.kept_card VALUES (?, ?, ?, ?, ?)');
  const drop = database.prepare('DELETE FROM ledger.kept_card WHERE inventory = ?');
  return {
    all: () => all.all().map((row) => ({ ...row }) as unknown as KeptCard),
    put({ inventory, saidAt, saidBy, endedAt, lacking }) {
      put.run(inventory, Math.round(saidAt), saidBy, endedAt === null ? null : Math.round(endedAt), lacking);
    },
    drop: (inventory) => drop.run(inventory).changes > 0,
  };
}
