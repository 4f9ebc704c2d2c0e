import type { DatabaseSync } from 'node:sqlite';
import type { CardNote, InventoryHead } from '../../core/card-ports.ts';
import type { InventoryFile } from '../../core/cards/inventory.ts';

export interface InventoryQueries {
  /** Newest first. */
  heads(): InventoryHead[];
  /** Nothing of an inventory that is not kept. */
  filesOf(id: string): InventoryFile[];
  /** Replaces the one with the same id. */
  put(head: InventoryHead, files: readonly InventoryFile[]): void;
  /** With the note of the same key, what was said of it, and its lists. False: there is none with this id. */
  drop(id: string): boolean;
  notes(): CardNote[];
  putNote(note: CardNote): void;
}

type Packed = [path: string, size: number | null, mtimeMs: number | null];

export function openInventories(database: DatabaseSync): InventoryQueries {
  const heads = database.prepare('SELECT head FROM ledger.inventory ORDER BY taken_at DESC, id');
  const files = database.prepare('SELECT files FROM ledger.inventory WHERE id = ?');
  const put = database.prepare(`
    INSERT INTO ledger.inventory (id, taken_at, head, files) VALUES (?, ?, ?, ?)
    ON CONFLICT (id) DO UPDATE SET taken_at = excluded.taken_at, head = excluded.head, files = excluded.files`);
  const drop = database.prepare('DELETE FROM ledger.inventory WHERE id = ?');
  const notes = database.prepare('SELECT key, text FROM ledger.card_note ORDER BY key');
  const putNote = database.prepare(
    'INSERT INTO ledger.card_note VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET text = excluded.text',
  );
  const dropKept = database.prepare('DELETE FROM ledger.kept_card WHERE inventory = ?');
  const dropLists = database.prepare('DELETE FROM ledger.inventory_list WHERE inventory = ?');
  const dropNote = database.prepare('DELETE FROM ledger.card_note WHERE key = ?');
  return {
    heads: () => heads.all().map((row) => JSON.parse(String(row['head'])) as InventoryHead),
    filesOf(id) {
      const row = files.get(id);
      return row === undefined ? [] : unpack(String(row['files']));
    },
    put(head, list) {
      const packed = list.map(({ path, size, mtimeMs }): Packed => [path, size, mtimeMs]);
      put.run(head.id, Math.round(head.takenAt), JSON.stringify(head), JSON.stringify(packed));
    },
    drop(id) {
      dropNote.run(id);
      dropKept.run(id);
      dropLists.run(id);
      return drop.run(id).changes > 0;
    },
    notes: () => notes.all().map((row) => ({ key: String(row['key']), text: String(row['text']) })),
    putNote: ({ key, text }) => void putNote.run(key, text),
  };
}

function unpack(json: string): InventoryFile[] {
  return (JSON.parse(json) as Packed[]).map(([path, size, mtimeMs]) => ({ path, size, mtimeMs }));
}
