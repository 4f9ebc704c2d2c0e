import type { DatabaseSync } from 'node:sqlite';
import type { MulticamGroup } from '../../core/assess/assessment.ts';
import type { ProjectPlace, ProjectSigns } from '../../core/assess/project-signs.ts';
import type { SessionGroups } from '../../core/multicam-port.ts';
import { inTransaction } from './transaction.ts';

/** What a search found, kept over restarts. */
export interface KeptGroups {
  /** How often the clips of a project have changed. */
  changes(place: ProjectPlace): number;
  /** Of the last search that was through; `null`: none is kept. */
  head(place: ProjectPlace): { changes: number; signs: ProjectSigns } | null;
  /** The sessions that are kept, after this one, `most` at most. */
  sessions(place: ProjectPlace, after: number, most: number): SessionGroups[];
  /** What is kept does not hold any longer: until `finish` nothing is. `all`: nor does anything else of it. */
  begin(place: ProjectPlace, all: boolean): void;
  /** Without groups: the session is no more. */
  put(place: ProjectPlace, sessions: Iterable<[session: number, groups: MulticamGroup[]]>): void;
  /** Proxies and renders whose source is not known or not here, and (`false`) those of which that holds no longer. */
  putUnsourced(place: ProjectPlace, units: Iterable<[unit: string, isUnsourced: boolean]>): void;
  finish(place: ProjectPlace, changes: number, signs: ProjectSigns): void;
}

export function openKeptGroups(database: DatabaseSync): KeptGroups {
  const changesOf = database.prepare('SELECT changes FROM clip_change WHERE volume = ? AND project = ?');
  const head = database.prepare('SELECT changes, signs FROM multicam WHERE volume = ? AND project = ?');
  const clearHead = database.prepare('DELETE FROM multicam WHERE volume = ? AND project = ?');
  const putHead = database.prepare('INSERT OR REPLACE INTO multicam VALUES (?, ?, ?, ?)');
  const some = database.prepare(
    'SELECT session, json FROM multicam_session WHERE volume = ? AND project = ? AND session > ? ORDER BY session LIMIT ?',
  );
  const clearUnsourced = database.prepare('DELETE FROM unsourced_clip WHERE volume = ? AND project = ?');
  const addUnsourced = database.prepare('INSERT OR IGNORE INTO unsourced_clip VALUES (?, ?, ?)');
  const dropUnsourced = database.prepare('DELETE FROM unsourced_clip WHERE volume = ? AND project = ? AND unit = ?');
  const clear = database.prepare('DELETE FROM multicam_session WHERE volume = ? AND project = ?');
  const put = database.prepare('INSERT OR REPLACE INTO multicam_session VALUES (?, ?, ?, ?)');
  const drop = database.prepare('DELETE FROM multicam_session WHERE volume = ? AND project = ? AND session = ?');
  return {
    changes: ({ volume, project }) => Number(changesOf.get(volume, project)?.['changes'] ?? 0),
    head({ volume, project }) {
      const row = head.get(volume, project);
      return row === undefined
        ? null
        : { changes: Number(row['changes']), signs: JSON.parse(String(row['signs'])) as ProjectSigns };
    },
    sessions: ({ volume, project }, after, most) =>
      some.all(volume, project, after, most).map((row) => ({
        session: Number(row['session']),
        groups: JSON.parse(String(row['json'])) as MulticamGroup[],
      })),
    begin({ volume, project }, all) {
      clearHead.run(volume, project);
      if (!all) return;
      clear.run(volume, project);
      clearUnsourced.run(volume, project);
    },
    put({ volume, project }, sessions) {
      inTransaction(database, () => {
        for (const [session, groups] of sessions) {
          if (groups.length === 0) drop.run(volume, project, session);
          else put.run(volume, project, session, JSON.stringify(groups));
        }
      });
    },
    putUnsourced({ volume, project }, units) {
      inTransaction(database, () => {
        for (const [unit, isUnsourced] of units)
          (isUnsourced ? addUnsourced : dropUnsourced).run(volume, project, unit);
      });
    },
    finish({ volume, project }, changes, signs) {
      putHead.run(volume, project, changes, JSON.stringify(signs));
    },
  };
}
