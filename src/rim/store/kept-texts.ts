import type { DatabaseSync } from 'node:sqlite';

/** Short texts under a key: a project rule that was guessed, where a volume was mounted. */
export interface KeptTexts {
  recall(key: string): string | null;
  remember(key: string, value: string): void;
}

/** They lie beside the store's own entries, apart by their prefix. */
const prefix = 'kept:';

export function openKeptTexts(database: DatabaseSync): KeptTexts {
  const find = database.prepare('SELECT value FROM main.meta WHERE key = ?');
  const put = database.prepare(
    'INSERT INTO main.meta VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value',
  );
  return {
    recall(key) {
      const row = find.get(prefix + key);
      return row === undefined ? null : String(row['value']);
    },
    remember(key, value) {
      put.run(prefix + key, value);
    },
  };
}
