import type { DatabaseSync } from 'node:sqlite';

/** More shelves than these have no place in a number; nobody has them. */
const MOST = 50;

/**
 * Every shelf that copies are known on, in a temporary table: the drive it lies on as a number (two shelves on one drive are one copy when it is
 * lost), and a bit of its own, so that a set of shelves is a number.
 */
export interface ShelfKeys {
  /** Writes nothing where all is as it was. */
  refresh(): void;
  /** Grows when something is otherwise. */
  version(): number;
  /** Names of the shelves in a set, each once. */
  names(set: number): string[];
}

interface KeyRow {
  shelf: string;
  name: string;
  drive: number;
  bit: number;
}

export function openShelfKeys(database: DatabaseSync): ShelfKeys {
  database.exec(
    'CREATE TEMP TABLE shelf_key (shelf TEXT PRIMARY KEY, name TEXT, drive INTEGER, bit INTEGER) WITHOUT ROWID',
  );
  // One step for each shelf: reading all copies for it would take long.
  const found = database.prepare(`
    WITH RECURSIVE used(id) AS (
      SELECT min(shelf) FROM ledger.copy
      UNION ALL SELECT (SELECT min(shelf) FROM ledger.copy WHERE shelf > used.id) FROM used WHERE used.id IS NOT NULL),
    known AS (
      SELECT id, name, coalesce('d' || drive, 's' || id) AS place FROM ledger.shelf
      UNION ALL SELECT id, id, 's' || id FROM used WHERE id IS NOT NULL AND id NOT IN (SELECT id FROM ledger.shelf))
    SELECT id AS shelf, name, dense_rank() OVER (ORDER BY place) AS drive,
      iif(row_number() OVER (ORDER BY id) <= ${MOST}, 1 << (row_number() OVER (ORDER BY id) - 1), 0) AS bit FROM known`);
  const clear = database.prepare('DELETE FROM shelf_key');
  const put = database.prepare('INSERT INTO shelf_key VALUES (:shelf, :name, :drive, :bit)');
  let rows: KeyRow[] = [];
  let version = 0;
  return {
    refresh() {
      const now = found.all().map((row) => ({ ...row }) as unknown as KeyRow);
      if (JSON.stringify(now) === JSON.stringify(rows)) return;
      rows = now;
      version += 1;
      clear.run();
      for (const row of rows) put.run({ ...row });
    },
    version: () => version,
    names(set) {
      const names = rows.filter(({ bit }) => (BigInt(set) & BigInt(bit)) !== 0n).map(({ name }) => name);
      return [...new Set(names)].sort();
    },
  };
}
