import type { DatabaseSync } from 'node:sqlite';
import type { CopiesWanted } from '../../core/backup/project-copies.ts';
import { FOOTAGE_KINDS, type Instant, MADE_KINDS } from '../../core/model.ts';
import { IS_VERIFIED, listed, SAME_TIME } from './copy-rows.ts';

/*
 * `covered_file`: files that have a verified copy of the version that is on the volume now. `bytes`: of footage that must have copies; `size`: of
 * any kind; `enough`: on as many drives as are wanted; `fresh`: on as many, each read back since the last instant that counts.
 * `covered_unit`: units all of whose files have enough.
 */
const FILE_COLUMNS = 'id, volume, area, project, bytes, size, part, copies, enough, fresh, oldest, shelves';
const UNIT_COLUMNS = 'volume, unit, area, project, fresh, clips, duration_us, made_clips, made_bytes, made_us';

/** What was taken out since it was filled is kept apart (`..._less`), so that nothing has to be added up anew for it. `filling` has a row meanwhile. */
const TABLES = `
  CREATE TEMP TABLE copies_wanted (volume TEXT PRIMARY KEY, copies INTEGER) WITHOUT ROWID;
  CREATE TEMP TABLE covered_file (
    id INTEGER PRIMARY KEY, volume TEXT, area TEXT, project TEXT, bytes INTEGER, size INTEGER, part TEXT,
    copies INTEGER, enough INTEGER, fresh INTEGER, oldest INTEGER, shelves INTEGER
  );
  CREATE TEMP TABLE covered_unit (
    volume TEXT, unit TEXT, area TEXT, project TEXT, fresh INTEGER, clips INTEGER, duration_us INTEGER,
    made_clips INTEGER, made_bytes INTEGER, made_us INTEGER, PRIMARY KEY (volume, unit)
  ) WITHOUT ROWID;
  CREATE TEMP TABLE covered_file_less (${FILE_COLUMNS});
  CREATE TEMP TABLE covered_unit_less (${UNIT_COLUMNS});
  CREATE TEMP TABLE filling (one INTEGER);
  ${keptApart('covered_file', FILE_COLUMNS)}
  ${keptApart('covered_unit', UNIT_COLUMNS)}`;

function keptApart(table: string, columns: string): string {
  const old = columns.replaceAll(/(\w+)/g, 'OLD.$1');
  return `CREATE TEMP TRIGGER ${table}_went AFTER DELETE ON ${table} WHEN NOT EXISTS (SELECT 1 FROM filling) BEGIN
    INSERT INTO ${table}_less VALUES (${old});
  END;`;
}

/** Whatever changes is not covered until it is counted again. Made when there are copies: no copies cost nothing. */
export const COVERAGE_TRIGGERS = `
  CREATE TEMP TRIGGER file_came AFTER INSERT ON main.file BEGIN
    ${uncover('NEW.volume', 'NEW.unit')}
  END;
  CREATE TEMP TRIGGER file_became AFTER UPDATE ON main.file
    WHEN (OLD.dir, OLD.name, OLD.size, OLD.mtime_ns, OLD.area, OLD.kind, OLD.unit, OLD.counted, OLD.exposable)
      <> (NEW.dir, NEW.name, NEW.size, NEW.mtime_ns, NEW.area, NEW.kind, NEW.unit, NEW.counted, NEW.exposable)
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
  const among = units.join(', ');
  return `DELETE FROM covered_unit WHERE volume = ${volume} AND (unit IN (${among}) OR unit IN (
      SELECT lead.base FROM part AS mine CROSS JOIN part AS lead ON lead.volume = mine.volume AND lead.unit = mine.take
      WHERE mine.volume = ${volume} AND mine.base IN (${among})));`;
}

/** What a covered file counts as, of `file` in SQL. */
const placed = (file: string) => `${file}.id, ${file}.volume, ${file}.area, ${file}.project,
  iif(${file}.exposable AND ${file}.counted, ${file}.size, 0), iif(${file}.counted, ${file}.size, 0),
  CASE WHEN ${file}.kind IN (${listed(FOOTAGE_KINDS)}) THEN 'footage' WHEN ${file}.kind IN (${listed(MADE_KINDS)}) THEN 'made' ELSE 'other' END`;

/** Copies wanted of what lies on the volume of `file`. */
const WANTED = 'coalesce((SELECT copies FROM copies_wanted WHERE copies_wanted.volume = file.volume), :usual)';

const FRESH = 'FILTER (WHERE copy.read_at >= :since)';

const IS_MADE = `clip.exposable = 0 AND json_extract(clip.json, '$.kind') IN (${listed(MADE_KINDS)})`;

/** What of the clips with this `unit` counts, as columns of a group. */
const CLIPS = `count(*) FILTER (WHERE clip.exposable = 1) AS clips, coalesce(sum(clip.duration_us) FILTER (WHERE clip.exposable = 1), 0) AS duration_us,
  count(*) FILTER (WHERE ${IS_MADE}) AS made_clips, coalesce(sum(clip.bytes) FILTER (WHERE ${IS_MADE}), 0) AS made_bytes,
  coalesce(sum(clip.duration_us) FILTER (WHERE ${IS_MADE}), 0) AS made_us`;

/** Makes the tables. Fills them when it is called; `null`: nothing is covered. */
export function openCoverageFill(database: DatabaseSync): (wanted: CopiesWanted | null, since: Instant) => void {
  database.exec(TABLES);
  const began = database.prepare('INSERT INTO filling VALUES (1)');
  const clears = [
    'copies_wanted',
    'covered_file',
    'covered_unit',
    'covered_file_less',
    'covered_unit_less',
    'filling',
  ].map((table) => database.prepare(`DELETE FROM ${table}`));
  const want = database.prepare('INSERT INTO copies_wanted VALUES (?, ?)');
  const files = database.prepare(`
    INSERT INTO covered_file
    SELECT ${placed('file')}, count(DISTINCT place.drive), count(DISTINCT place.drive) >= ${WANTED},
      count(DISTINCT place.drive) ${FRESH} >= ${WANTED}, min(copy.read_at) ${FRESH}, coalesce(sum(DISTINCT place.bit) ${FRESH}, 0)
    FROM ledger.source AS source CROSS JOIN file USING (volume, dir, name)
      CROSS JOIN ledger.copy AS copy ON copy.content = source.content CROSS JOIN shelf_key AS place ON place.shelf = copy.shelf
    WHERE ${IS_VERIFIED} AND source.size = file.size AND ${SAME_TIME}
    GROUP BY file.id`);
  const otherNames = database.prepare(`
    INSERT OR IGNORE INTO covered_file
    SELECT ${placed('other')}, copies, enough, fresh, oldest, shelves FROM covered_file CROSS JOIN file USING (id)
      CROSS JOIN file AS other ON other.volume = file.volume AND other.ino = file.ino AND other.dev = file.dev
    WHERE file.nlink > 1 AND other.nlink > 1 AND other.size = file.size AND other.mtime_ns = file.mtime_ns`);
  const units = database.prepare(`
    INSERT INTO covered_unit
    SELECT safe.volume, safe.unit, safe.area, safe.project, safe.fresh, ${CLIPS}
    FROM (SELECT file.volume, file.unit, file.area, file.project, min(covered_file.fresh) AS fresh
        FROM covered_file CROSS JOIN file USING (id) WHERE covered_file.enough
        GROUP BY file.volume, file.unit
        HAVING count(*) = (SELECT count(*) FROM file AS all_of_it
          WHERE all_of_it.volume = file.volume AND all_of_it.unit = file.unit)) AS safe
      LEFT JOIN clip ON clip.volume = safe.volume AND clip.base = safe.unit
    GROUP BY safe.volume, safe.unit`);
  // A take stands with the unit of its first part, but is covered with the last of them.
  const torn = database.prepare(`
    UPDATE covered_unit SET clips = covered_unit.clips - less.clips, duration_us = covered_unit.duration_us - less.duration_us,
      made_clips = covered_unit.made_clips - less.made_clips, made_bytes = covered_unit.made_bytes - less.made_bytes,
      made_us = covered_unit.made_us - less.made_us
    FROM (SELECT clip.volume, clip.base, ${CLIPS}
        FROM (SELECT DISTINCT part.volume, part.take FROM part WHERE NOT EXISTS (
            SELECT 1 FROM covered_unit AS safe WHERE safe.volume = part.volume AND safe.unit = part.base)) AS some
          CROSS JOIN clip ON clip.volume = some.volume AND clip.unit = some.take
        GROUP BY clip.volume, clip.base) AS less
    WHERE covered_unit.volume = less.volume AND covered_unit.unit = less.base`);
  return (wanted, since) => {
    began.run();
    for (const clear of clears) clear.run();
    if (wanted === null) return;
    for (const [volume, copies] of Object.entries(wanted.byVolume)) want.run(volume, copies);
    files.run({ usual: wanted.copies, since: Math.round(since) });
    otherNames.run();
    units.run();
    torn.run();
  };
}
