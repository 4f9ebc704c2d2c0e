import type { DatabaseSync } from 'node:sqlite';
import { mayJoin, scopesOf } from '../../core/intake/join-scope.ts';
import type { Clip } from '../../core/model.ts';

/**
 * Where takes are to be looked for. A clip that may be a part of one is noted under its folders; where one such is, whatever
 * comes or goes has the folder looked through again. A folder without any, which is most, costs one look at an index.
 */
export interface Scopes {
  came(clip: Clip, base: string): void;
  /** Clips that were taken with a unit are gone. */
  went(volume: string, base: string, clips: readonly Clip[]): void;
  lookAgain(volume: string, base: string): void;
}

export function openScopes(database: DatabaseSync): Scopes {
  const note = database.prepare('INSERT OR IGNORE INTO joinable (volume, scope, base) VALUES (?, ?, ?)');
  const drop = database.prepare('DELETE FROM joinable WHERE volume = ? AND base = ?');
  const open = database.prepare('INSERT OR IGNORE INTO open_scope (volume, scope) VALUES (?, ?)');
  const openOfBase = database.prepare(
    'INSERT OR IGNORE INTO open_scope SELECT volume, scope FROM joinable WHERE volume = ? AND base = ?',
  );
  const openIfAny = database.prepare(`
    INSERT OR IGNORE INTO open_scope SELECT :volume, :scope
    WHERE EXISTS (SELECT 1 FROM joinable WHERE volume = :volume AND scope = :scope)`);
  const openAround = (clip: Clip) => {
    for (const scope of scopesOf(clip)) openIfAny.run({ volume: clip.volume, scope });
  };
  return {
    came(clip, base) {
      if (!mayJoin(clip)) return openAround(clip);
      for (const scope of scopesOf(clip)) {
        note.run(clip.volume, scope, base);
        open.run(clip.volume, scope);
      }
    },
    went(volume, base, clips) {
      for (const clip of clips) openAround(clip);
      drop.run(volume, base);
    },
    lookAgain: (volume, base) => void openOfBase.run(volume, base),
  };
}
