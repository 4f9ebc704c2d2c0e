import type { DatabaseSync } from 'node:sqlite';
import { type CardList, cardLists, listScope } from '../../core/intake/card-list.ts';
import type { CardLists } from '../../core/intake/join.ts';
import type { PathText } from '../../core/model.ts';
import { splitPath } from './file-rows.ts';
import { inTransaction } from './transaction.ts';

/** What lists of cards say, kept with the path of the list. A list whose file is not there any more says nothing. */
export interface KeptCardLists {
  put(volume: string, lists: readonly { path: PathText; list: CardList | null }[]): void;
  /** Of one card, by its folder. */
  of(volume: string, scope: PathText): CardLists;
  move(volume: string, from: PathText, to: PathText): void;
}

export function openCardLists(database: DatabaseSync): KeptCardLists {
  const insert = database.prepare('INSERT OR REPLACE INTO card_list (volume, scope, path, json) VALUES (?, ?, ?, ?)');
  const drop = database.prepare('DELETE FROM card_list WHERE volume = ? AND scope = ? AND path = ? RETURNING json');
  const ofScope = database.prepare('SELECT path, json FROM card_list WHERE volume = ? AND scope = ?');
  const open = database.prepare('INSERT OR IGNORE INTO open_scope (volume, scope) VALUES (?, ?)');
  const file = database.prepare('SELECT 1 FROM file WHERE volume = ? AND dir = ? AND name = ?');
  const isThere = (volume: string, path: PathText) => {
    const { dir, name } = splitPath(path);
    return file.get(volume, dir, name) !== undefined;
  };
  return {
    put(volume, lists) {
      inTransaction(database, () => {
        for (const { path, list } of lists) {
          const scope = listScope(path);
          if (scope === null) continue;
          if (list === null) drop.run(volume, scope, path);
          else insert.run(volume, scope, path, JSON.stringify(list));
          open.run(volume, scope);
        }
      });
    },
    of(volume, scope) {
      const rows = ofScope.all(volume, scope).map(({ path, json }) => ({ path: String(path), json: String(json) }));
      const [there, gone] = [true, false].map((wanted) => rows.filter(({ path }) => isThere(volume, path) === wanted));
      for (const { path } of gone ?? []) drop.run(volume, scope, path);
      return cardLists((there ?? []).map(({ path, json }) => ({ path, list: JSON.parse(json) as CardList })));
    },
    move(volume, from, to) {
      const [before, after] = [listScope(from), listScope(to)];
      const kept = before === null ? undefined : drop.get(volume, before, from);
      if (kept !== undefined && after !== null) insert.run(volume, after, to, String(kept['json']));
    },
  };
}
