import type { DatabaseSync } from 'node:sqlite';
import type { Sums } from '../../core/backup/sums.ts';
import type { InventoryListHead } from '../../core/cards/inventory-list.ts';
import type { KnownListed } from '../../core/cards/known-list.ts';
import type { PathText } from '../../core/model.ts';

export interface InventoryListRows {
  heads(): InventoryListHead[];
  /** Nothing of one that is not kept. */
  filesOf(inventory: string, place: PathText): KnownListed[];
  /** A whole one is replaced by a whole one alone; nothing is kept for an inventory that is not kept. */
  put(head: InventoryListHead, files: readonly KnownListed[]): void;
}

type Packed = [path: string, size: number | null, sums: Sums];

export function openInventoryLists(database: DatabaseSync): InventoryListRows {
  const heads = database.prepare('SELECT head FROM ledger.inventory_list ORDER BY inventory, place');
  const files = database.prepare('SELECT files FROM ledger.inventory_list WHERE inventory = ? AND place = ?');
  const put = database.prepare(`
    INSERT INTO ledger.inventory_list (inventory, place, state, head, files)
    SELECT id, ?, ?, ?, ? FROM ledger.inventory WHERE id = ?
    ON CONFLICT (inventory, place) DO UPDATE SET state = excluded.state, head = excluded.head, files = excluded.files
      WHERE inventory_list.state <> 'whole' OR excluded.state = 'whole'`);
  return {
    heads: () => heads.all().map((row) => JSON.parse(String(row['head'])) as InventoryListHead),
    filesOf(inventory, place) {
      const packed = JSON.parse(String(files.get(inventory, place)?.['files'] ?? '[]')) as Packed[];
      return packed.map(([path, size, sums]) => ({ path, size, sums }));
    },
    put(head, listed) {
      const packed = listed.map(({ path, size, sums }): Packed => [path, size, sums]);
      put.run(head.place, head.state, JSON.stringify(head), JSON.stringify(packed), head.inventory);
    },
  };
}
