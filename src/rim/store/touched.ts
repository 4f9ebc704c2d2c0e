import type { DatabaseSync } from 'node:sqlite';
import type { ProjectPlace } from '../../core/assess/project-signs.ts';

/** Units whose clips came, went or changed since they were taken last, of projects that are watched. */
export interface Touched {
  take(place: ProjectPlace): string[];
  watch(place: ProjectPlace): void;
  unwatch(place: ProjectPlace): void;
}

/** No project is watched in the beginning. */
export function openTouched(database: DatabaseSync): Touched {
  database.exec('DELETE FROM clip_touched; DELETE FROM clip_watched');
  const all = database.prepare('SELECT unit FROM clip_touched WHERE volume = ? AND project = ?');
  const clear = database.prepare('DELETE FROM clip_touched WHERE volume = ? AND project = ?');
  const watch = database.prepare('INSERT OR IGNORE INTO clip_watched VALUES (?, ?)');
  const unwatch = database.prepare('DELETE FROM clip_watched WHERE volume = ? AND project = ?');
  return {
    take({ volume, project }) {
      const units = all.all(volume, project).map((row) => String(row['unit']));
      if (units.length > 0) clear.run(volume, project);
      return units;
    },
    watch({ volume, project }) {
      clear.run(volume, project);
      watch.run(volume, project);
    },
    unwatch({ volume, project }) {
      unwatch.run(volume, project);
      clear.run(volume, project);
    },
  };
}
