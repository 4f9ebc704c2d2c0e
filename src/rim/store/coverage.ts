import type { DatabaseSync } from 'node:sqlite';
import type { FootageTotal, ProjectFootprint } from '../../core/assess/footprint.ts';
import { IS_VERIFIED } from './copy-rows.ts';

/** A project, or an area outside projects, of one volume. */
type Place = Pick<ProjectFootprint, 'volume' | 'area' | 'project'>;

/** Counting that takes less than this, in ms, is done after every change. */
const QUICK = 50;
/** Else it takes at most this share of the time. */
const SHARE = 0.05;

/**
 * Footage with enough verified copies, by place. A file is covered when the version that is on the volume now (same size
 * and modification time) has them under any of its names; two shelves on one device are one copy. A clip is covered when
 * every file of its unit is; a take of several clips when every file of all their units is.
 *
 * Counted again when something changed, but where that takes long only now and then. Whatever is new or changes meanwhile
 * counts as not covered until then: what is told errs towards exposure.
 */
export interface Coverage {
  refresh(wantedCopies: number): void;
  covered(place: Place): FootageTotal;
  /** When the earliest footage that is not covered was seen, at the last full count. */
  since(place: Place): number | null;
}

export function openCoverage(database: DatabaseSync, now: () => number): Coverage {
  database.exec(TABLES);
  const changesOf = database.prepare('SELECT total_changes() AS n');
  const anyCopy = database.prepare(`SELECT 1 FROM ledger.copy AS copy WHERE ${IS_VERIFIED} LIMIT 1`);
  const fill = openFill(database);
  const total = openTotal(database);
  const earliest = openEarliest(database);
  const sinces = new Map<string, number | null>();
  let totals = new Map<string, FootageTotal>();
  let seenChanges = -1;
  let counted = { wanted: -1, changes: -1, restsUntil: 0 };
  let hasTriggers = false;

  const changes = () => Number(changesOf.get()?.['n']);

  function count(wanted: number): void {
    const began = now();
    const hasCopies = wanted > 0 && anyCopy.get() !== undefined;
    if (hasCopies && !hasTriggers) {
      database.exec(TRIGGERS);
      hasTriggers = true;
    }
    fill(hasCopies ? wanted : null);
    totals = total();
    sinces.clear();
    seenChanges = changes();
    const took = now() - began;
    counted = { wanted, changes: seenChanges, restsUntil: took < QUICK ? 0 : now() + took / SHARE };
  }

  return {
    refresh(wanted) {
      const found = changes();
      if (wanted !== counted.wanted) count(wanted);
      else if (found !== counted.changes && now() >= counted.restsUntil) count(wanted);
      else if (found !== seenChanges) {
        totals = total();
        seenChanges = found;
      }
    },
    covered: (place) => totals.get(placeKey(place)) ?? nothing(),
    since(place) {
      const key = placeKey(place);
      const known = sinces.get(key);
      if (known !== undefined) return known;
      const found = earliest(place);
      sinces.set(key, found);
      return found;
    },
  };
}

const TABLES = `
  CREATE TEMP TABLE covered_file (id INTEGER PRIMARY KEY, volume TEXT, area TEXT, project TEXT, bytes INTEGER);
  CREATE TEMP TABLE covered_unit (
    volume TEXT, unit TEXT, area TEXT, project TEXT, clips INTEGER, duration_us INTEGER, PRIMARY KEY (volume, unit)
  ) WITHOUT ROWID;`;

/** Whatever changes is not covered until it is counted again. Made when there are copies: no copies cost nothing. */
const TRIGGERS = `
  CREATE TEMP TRIGGER file_came AFTER INSERT ON main.file BEGIN
    ${uncover('NEW.volume', 'NEW.unit')}
  END;
  CREATE TEMP TRIGGER file_became AFTER UPDATE ON main.file
    WHEN (OLD.dir, OLD.name, OLD.size, OLD.mtime_ns, OLD.area, OLD.unit, OLD.counted, OLD.exposable)
      <> (NEW.dir, NEW.name, NEW.size, NEW.mtime_ns, NEW.area, NEW.unit, NEW.counted, NEW.exposable)
      OR OLD.project IS NOT NEW.project BEGIN
    DELETE FROM covered_file WHERE id = OLD.id;
    ${uncover('OLD.volume', 'OLD.unit', 'NEW.unit')}
  END;
  CREATE TEMP TRIGGER file_went AFTER DELETE ON main.file BEGIN
    DELETE FROM covered_file WHERE id = OLD.id;
    ${uncover('OLD.volume', 'OLD.unit')}
  END;
  CREATE TEMP TRIGGER covered_clip_came AFTER INSERT ON main.clip BEGIN
    ${uncover('NEW.volume', 'NEW.base')}
  END;
  CREATE TEMP TRIGGER covered_clip_became AFTER UPDATE ON main.clip BEGIN
    ${uncover('OLD.volume', 'OLD.base', 'NEW.base')}
  END;
  CREATE TEMP TRIGGER covered_clip_went AFTER DELETE ON main.clip BEGIN
    ${uncover('OLD.volume', 'OLD.base')}
  END;`;

/** Takes units out of what is covered, and the takes that clips of them are parts of. */
function uncover(volume: string, ...units: string[]): string {
  const listed = units.join(', ');
  return `DELETE FROM covered_unit WHERE volume = ${volume} AND (unit IN (${listed}) OR unit IN (
      SELECT lead.base FROM part AS mine CROSS JOIN part AS lead ON lead.volume = mine.volume AND lead.unit = mine.take
      WHERE mine.volume = ${volume} AND mine.base IN (${listed})));`;
}

/** Fills the tables of covered files and of units all of whose files are covered; `null`: nothing is. */
function openFill(database: DatabaseSync): (wantedCopies: number | null) => void {
  const clearFiles = database.prepare('DELETE FROM covered_file');
  const clearUnits = database.prepare('DELETE FROM covered_unit');
  const columns = (file: string) =>
    `${file}.id, ${file}.volume, ${file}.area, ${file}.project, iif(${file}.exposable AND ${file}.counted, ${file}.size, 0)`;
  const files = database.prepare(`
    INSERT INTO covered_file
    SELECT ${columns('file')} FROM ledger.source AS source CROSS JOIN file USING (volume, dir, name)
      CROSS JOIN ledger.copy AS copy ON copy.content = source.content LEFT JOIN ledger.shelf AS shelf ON shelf.id = copy.shelf
    WHERE ${IS_VERIFIED} AND source.size = file.size AND source.mtime_ns = file.mtime_ns
    GROUP BY file.id
    HAVING min(count(DISTINCT copy.shelf), count(DISTINCT coalesce('d' || shelf.drive, 's' || copy.shelf))) >= ?`);
  const otherNames = database.prepare(`
    INSERT OR IGNORE INTO covered_file
    SELECT ${columns('other')} FROM covered_file CROSS JOIN file USING (id)
      CROSS JOIN file AS other ON other.volume = file.volume AND other.ino = file.ino AND other.dev = file.dev
    WHERE file.nlink > 1 AND other.nlink > 1 AND other.size = file.size AND other.mtime_ns = file.mtime_ns`);
  const units = database.prepare(`
    INSERT INTO covered_unit
    SELECT safe.volume, safe.unit, safe.area, safe.project, count(clip.unit), coalesce(sum(clip.duration_us), 0)
    FROM (SELECT file.volume, file.unit, file.area, file.project FROM covered_file CROSS JOIN file USING (id)
        GROUP BY file.volume, file.unit
        HAVING count(*) = (SELECT count(*) FROM file AS all_of_it
          WHERE all_of_it.volume = file.volume AND all_of_it.unit = file.unit)) AS safe
      LEFT JOIN clip ON clip.volume = safe.volume AND clip.base = safe.unit AND clip.exposable = 1
    GROUP BY safe.volume, safe.unit`);
  // A take stands with the unit of its first part, but is covered with the last of them.
  const torn = database.prepare(`
    UPDATE covered_unit SET clips = covered_unit.clips - less.clips, duration_us = covered_unit.duration_us - less.duration_us
    FROM (SELECT clip.volume, clip.base, count(*) AS clips, sum(clip.duration_us) AS duration_us
        FROM (SELECT DISTINCT part.volume, part.take FROM part WHERE NOT EXISTS (
            SELECT 1 FROM covered_unit AS safe WHERE safe.volume = part.volume AND safe.unit = part.base)) AS some
          CROSS JOIN clip ON clip.volume = some.volume AND clip.unit = some.take
        WHERE clip.exposable = 1 GROUP BY clip.volume, clip.base) AS less
    WHERE covered_unit.volume = less.volume AND covered_unit.unit = less.base`);
  return (wantedCopies) => {
    clearFiles.run();
    clearUnits.run();
    if (wantedCopies === null) return;
    files.run(wantedCopies);
    otherNames.run();
    units.run();
    torn.run();
  };
}

function openTotal(database: DatabaseSync): () => Map<string, FootageTotal> {
  const files = database.prepare(
    'SELECT volume, area, project, sum(bytes) AS bytes FROM covered_file GROUP BY volume, area, project',
  );
  const clips = database.prepare(`
    SELECT volume, area, project, sum(clips) AS clips, sum(duration_us) AS duration_us
    FROM covered_unit GROUP BY volume, area, project`);
  return () => {
    const found = new Map<string, FootageTotal>();
    for (const row of files.all()) totalOf(found, row as unknown as Place).bytes = Number(row['bytes']);
    for (const row of clips.all()) {
      const total = totalOf(found, row as unknown as Place);
      total.clips = Number(row['clips']);
      total.durationMicros = Number(row['duration_us']);
    }
    return found;
  };
}

function openEarliest(database: DatabaseSync): (place: Place) => number | null {
  // Footage whose unit is wholly covered is skipped; what is left comes in the index's order, earliest first.
  const earliest = database.prepare(`
    SELECT first_seen_at AS at FROM file
    WHERE volume = ? AND area = ? AND project IS ? AND exposable = 1 AND size > 0
      AND NOT EXISTS (SELECT 1 FROM covered_unit AS safe WHERE safe.volume = file.volume AND safe.unit = file.unit)
    ORDER BY first_seen_at LIMIT 1`);
  return ({ volume, area, project }) => {
    const found = earliest.get(volume, area, project)?.['at'];
    return typeof found === 'number' ? found : null;
  };
}

function totalOf(found: Map<string, FootageTotal>, place: Place): FootageTotal {
  const key = placeKey(place);
  const total = found.get(key) ?? nothing();
  found.set(key, total);
  return total;
}

function nothing(): FootageTotal {
  return { clips: 0, bytes: 0, durationMicros: 0 };
}

function placeKey({ volume, area, project }: Place): string {
  return JSON.stringify([volume, area, project]);
}
