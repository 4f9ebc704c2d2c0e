import type { DatabaseSync } from 'node:sqlite';
import type { OnlyOnShelf } from '../../core/backup/project-copies.ts';
import { FOOTAGE_KINDS } from '../../core/model.ts';
import { IS_VERIFIED, listed } from './copy-rows.ts';
import type { ShelfKeys } from './shelf-keys.ts';
import { IS_LOST } from './shelf-rows.ts';

/** What is on shelves alone, by project. */
export interface LostCopies {
  /** Looks at the files and copies that changed since the last time. */
  refresh(): void;
  all(): LostProject[];
}

export interface LostProject extends OnlyOnShelf {
  volume: string;
  /** `null`: outside of all. */
  project: string | null;
}

const TABLES = `
  CREATE TEMP TABLE lost_copy (
    shelf TEXT, path TEXT, volume TEXT, project TEXT, dir TEXT, name TEXT, size INTEGER, footage INTEGER, verified INTEGER, read_at INTEGER,
    PRIMARY KEY (shelf, path)
  ) WITHOUT ROWID;
  CREATE TEMP TABLE lost_dirty (volume TEXT, dir TEXT, name TEXT, PRIMARY KEY (volume, dir, name)) WITHOUT ROWID;
  CREATE TEMP TABLE lost_content (content INTEGER PRIMARY KEY);
  CREATE TEMP TABLE lost_asked (shelf TEXT, path TEXT, PRIMARY KEY (shelf, path)) WITHOUT ROWID;`;

/** Not `OR IGNORE`: in a trigger it is the word of the statement that set it off that counts. */
const dirty = (row: 'OLD' | 'NEW') => `INSERT INTO lost_dirty SELECT ${row}.volume, ${row}.dir, ${row}.name
  WHERE NOT EXISTS (SELECT 1 FROM lost_dirty WHERE (volume, dir, name) = (${row}.volume, ${row}.dir, ${row}.name));`;

/**
 * Where something changed that a copy's being all that is left hangs on. Made with the first copy: without any nothing is to be noted.
 * A version that is put again may turn out to hold something else, and copies of what it was said to hold may then be all that is left: what
 * replaces a row sets off no trigger of a deletion, so that is noted before.
 */
const TRIGGERS = `
  CREATE TEMP TRIGGER lost_file_came AFTER INSERT ON main.file BEGIN ${dirty('NEW')} END;
  CREATE TEMP TRIGGER lost_file_went AFTER DELETE ON main.file BEGIN ${dirty('OLD')} END;
  CREATE TEMP TRIGGER lost_file_became AFTER UPDATE ON main.file
    WHEN (OLD.dir, OLD.name, OLD.size, OLD.mtime_ns, OLD.area) <> (NEW.dir, NEW.name, NEW.size, NEW.mtime_ns, NEW.area)
    BEGIN ${dirty('OLD')} ${dirty('NEW')} END;
  CREATE TEMP TRIGGER lost_source_came AFTER INSERT ON ledger.source BEGIN ${dirty('NEW')} END;
  CREATE TEMP TRIGGER lost_source_replaced BEFORE INSERT ON ledger.source BEGIN
    INSERT INTO lost_content SELECT content FROM ledger.source WHERE (volume, dir, name, size, mtime_ns) = (NEW.volume, NEW.dir, NEW.name, NEW.size, NEW.mtime_ns)
      AND content <> NEW.content AND content NOT IN (SELECT content FROM lost_content);
  END;
  CREATE TEMP TRIGGER lost_copy_came AFTER INSERT ON ledger.copy BEGIN ${dirty('NEW')} END;
  CREATE TEMP TRIGGER lost_copy_went AFTER DELETE ON ledger.copy BEGIN ${dirty('OLD')} END;
  CREATE TEMP TRIGGER lost_copy_became AFTER UPDATE ON ledger.copy BEGIN ${dirty('OLD')} ${dirty('NEW')} END;`;

const LOST = `
  INSERT OR REPLACE INTO lost_copy
  SELECT copy.shelf, copy.path, copy.volume, copy.project, copy.dir, copy.name, content.size, copy.kind IN (${listed(FOOTAGE_KINDS)}),
    ${IS_VERIFIED}, copy.read_at`;

/** Copies whose file changed, by where it lies and by what it holds or held. */
const ASK = `
  INSERT OR IGNORE INTO lost_asked
  SELECT place.shelf, changed.volume || '/' || iif(changed.dir = '', '', changed.dir || '/') || changed.name
    FROM lost_dirty AS changed CROSS JOIN shelf_key AS place
  UNION ALL SELECT copy.shelf, copy.path FROM lost_dirty AS changed CROSS JOIN ledger.source AS source USING (volume, dir, name)
    CROSS JOIN ledger.copy AS copy ON copy.content = source.content
  UNION ALL SELECT copy.shelf, copy.path FROM lost_content AS held CROSS JOIN ledger.copy AS copy ON copy.content = held.content`;

/** The first time all copies are read, later those of files that changed. */
export function openLostCopies(database: DatabaseSync, keys: ShelfKeys): LostCopies {
  database.exec(TABLES);
  const anyCopy = database.prepare('SELECT 1 FROM ledger.copy LIMIT 1');
  const anyDirty = database.prepare('SELECT 1 FROM lost_dirty LIMIT 1');
  const everyOne = database.prepare(`${LOST}
    FROM ledger.copy AS copy CROSS JOIN ledger.content AS content ON content.id = copy.content WHERE ${IS_LOST}`);
  const changed = [
    ASK,
    'DELETE FROM lost_copy WHERE (shelf, path) IN (SELECT shelf, path FROM lost_asked)',
    `${LOST}
    FROM lost_asked AS asked CROSS JOIN ledger.copy AS copy ON copy.shelf = asked.shelf AND copy.path = asked.path
      CROSS JOIN ledger.content AS content ON content.id = copy.content WHERE ${IS_LOST}`,
    'DELETE FROM lost_asked',
    'DELETE FROM lost_dirty',
    'DELETE FROM lost_content',
  ].map((sql) => database.prepare(sql));
  const read = openRead(database);
  let isWatched = false;
  let keysOf = -1;
  let known: LostProject[] = [];

  /** Whether there was anything to look at. */
  function look(): boolean {
    if (isWatched) {
      if (anyDirty.get() === undefined) return false;
      for (const step of changed) step.run();
      return true;
    }
    if (anyCopy.get() === undefined) return false;
    database.exec(TRIGGERS);
    isWatched = true;
    everyOne.run();
    return true;
  }

  return {
    refresh() {
      keys.refresh();
      if (!look() && keysOf === keys.version()) return;
      keysOf = keys.version();
      known = read();
    },
    all: () => known,
  };
}

function openRead(database: DatabaseSync): () => LostProject[] {
  // A file counts once; which of its copies is verified, and on how many drives.
  const projects = database.prepare(`
    SELECT volume, project, count(*) AS files, sum(size) AS bytes, coalesce(sum(size) FILTER (WHERE footage), 0) AS footageBytes,
      coalesce(min(copies) FILTER (WHERE footage), min(copies)) AS fewest, min(oldest) AS oldestReadAt
    FROM (SELECT volume, project, max(size) AS size, max(footage) AS footage,
        count(DISTINCT place.drive) FILTER (WHERE verified) AS copies, min(read_at) FILTER (WHERE verified) AS oldest
      FROM lost_copy LEFT JOIN shelf_key AS place USING (shelf) GROUP BY volume, project, dir, lost_copy.name)
    GROUP BY volume, project ORDER BY volume, project`);
  const shelves = database.prepare(`
    SELECT volume, project, place.name, count(*) AS files, sum(size) AS bytes FROM lost_copy CROSS JOIN shelf_key AS place USING (shelf)
    GROUP BY volume, project, place.name ORDER BY place.name`);
  return () => {
    const lying = shelves.all();
    return projects.all().map((row) => ({
      ...(row as unknown as Omit<LostProject, 'shelves'>),
      shelves: lying
        .filter(({ volume, project }) => volume === row['volume'] && project === row['project'])
        .map(({ name, files, bytes }) => ({ name: String(name), files: Number(files), bytes: Number(bytes) })),
    }));
  };
}
