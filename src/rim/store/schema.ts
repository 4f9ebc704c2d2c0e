/*
 * The catalogue; the ledger stands in ledger-schema.ts. A change of the schema is a new entry at the end of a list, never an
 * edit of an old one: `user_version` counts the entries a file has been through.
 *
 * 64-bit figures (device, inode, nanosecond times) are stored as SQLite's signed integers and read as bigint. A path is
 * kept as folder and name: a folder's content, and a whole tree, are each one range of the same index.
 */

export interface Schema {
  name: 'catalogue' | 'ledger';
  /** `PRAGMA application_id`: tells our files from any other SQLite database that lies under the same name. */
  applicationId: number;
  migrations: readonly string[];
}

/** Can be rebuilt from the files. */
export const CATALOGUE: Schema = {
  name: 'catalogue',
  applicationId: 0x68_72_6d_31, // "hrm1"
  migrations: [
    `
    CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;

    CREATE TABLE file (
      id INTEGER PRIMARY KEY,
      volume TEXT NOT NULL,
      dir TEXT NOT NULL,
      name TEXT NOT NULL,
      size INTEGER NOT NULL,
      allocated INTEGER NOT NULL,
      mtime_ns INTEGER NOT NULL,
      ctime_ns INTEGER NOT NULL,
      dev INTEGER NOT NULL,
      ino INTEGER NOT NULL,
      nlink INTEGER NOT NULL,
      area TEXT NOT NULL,
      project TEXT,
      kind TEXT NOT NULL,
      unit TEXT NOT NULL,
      state TEXT NOT NULL,
      counted INTEGER NOT NULL, -- 0: another hard link to the same content is the counted one
      exposable INTEGER NOT NULL, -- 1: footage outside the trash, which must have copies
      first_seen_at INTEGER NOT NULL -- ms since 1970; of a renamed file that of its earlier name
    ) STRICT;
    CREATE UNIQUE INDEX file_by_path ON file (volume, dir, name);
    CREATE INDEX file_by_unit ON file (volume, unit);
    CREATE INDEX file_unfinished ON file (volume) WHERE state <> 'ready';
    CREATE INDEX file_by_inode ON file (volume, ino, dev);
    CREATE INDEX file_exposure ON file (volume, area, project, first_seen_at) WHERE exposable = 1 AND size > 0;

    -- Footage that went lately: a rename is often seen as a file that goes and another that comes.
    CREATE TABLE gone_footage (
      volume TEXT NOT NULL,
      ino INTEGER NOT NULL,
      size INTEGER NOT NULL,
      mtime_ns INTEGER NOT NULL,
      first_seen_at INTEGER NOT NULL,
      gone_at INTEGER NOT NULL, -- ms since 1970
      PRIMARY KEY (volume, ino, size, mtime_ns)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX gone_footage_by_time ON gone_footage (gone_at);

    -- Units that lost a file and were not finished again since.
    CREATE TABLE broken_unit (volume TEXT NOT NULL, unit TEXT NOT NULL, PRIMARY KEY (volume, unit)) STRICT, WITHOUT ROWID;

    CREATE TABLE clip (
      volume TEXT NOT NULL,
      unit TEXT NOT NULL,
      base TEXT NOT NULL, -- the unit it was taken with; several clips may share it
      area TEXT NOT NULL,
      project TEXT,
      exposable INTEGER NOT NULL, -- 1: footage outside the trash, which must have copies
      ready_at INTEGER NOT NULL, -- ms since 1970
      bytes INTEGER NOT NULL,
      duration_us INTEGER NOT NULL, -- unknown is 0
      json TEXT NOT NULL, -- the whole clip
      PRIMARY KEY (volume, base, unit)
    ) STRICT;
    CREATE INDEX clip_newest ON clip (ready_at);
    CREATE INDEX clip_newest_of_volume ON clip (volume, ready_at);
    CREATE INDEX clip_newest_of_project ON clip (project, ready_at);

    -- Running sums, changed in the same transaction as what they sum. The key is the JSON of the columns that name them.
    CREATE TABLE file_sum (
      key TEXT PRIMARY KEY,
      volume TEXT NOT NULL,
      area TEXT NOT NULL,
      project TEXT,
      kind TEXT NOT NULL,
      files INTEGER NOT NULL,
      bytes INTEGER NOT NULL
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE clip_sum (
      key TEXT PRIMARY KEY,
      volume TEXT NOT NULL,
      area TEXT NOT NULL,
      project TEXT,
      kind TEXT NOT NULL,
      codec TEXT,
      width INTEGER,
      height INTEGER,
      rate_num REAL,
      rate_den REAL,
      clips INTEGER NOT NULL,
      bytes INTEGER NOT NULL,
      timed_bytes INTEGER NOT NULL, -- of clips whose duration is known
      duration_us INTEGER NOT NULL
    ) STRICT, WITHOUT ROWID;
    `,
    // What of a card has arrived is found by size and name, in any case.
    'CREATE INDEX file_by_size ON file (size, name COLLATE NOCASE);',
    `
    -- Multicam groups as they were last searched for: they stand while the clips of the project stay as they are.
    CREATE TABLE multicam (
      volume TEXT NOT NULL,
      project TEXT NOT NULL,
      changes INTEGER NOT NULL, -- of clip_change, when the search began
      json TEXT NOT NULL, -- list of groups
      PRIMARY KEY (volume, project)
    ) STRICT, WITHOUT ROWID;

    -- How often the clips of a project have changed. Counted by triggers, so that no writer can forget it.
    CREATE TABLE clip_change (
      volume TEXT NOT NULL, project TEXT NOT NULL, changes INTEGER NOT NULL, PRIMARY KEY (volume, project)
    ) STRICT, WITHOUT ROWID;
    INSERT INTO clip_change SELECT DISTINCT volume, project, 1 FROM clip WHERE project IS NOT NULL;
    CREATE TRIGGER clip_came AFTER INSERT ON clip WHEN NEW.project IS NOT NULL BEGIN
      INSERT INTO clip_change VALUES (NEW.volume, NEW.project, 1) ON CONFLICT DO UPDATE SET changes = changes + 1;
    END;
    CREATE TRIGGER clip_went AFTER DELETE ON clip WHEN OLD.project IS NOT NULL BEGIN
      INSERT INTO clip_change VALUES (OLD.volume, OLD.project, 1) ON CONFLICT DO UPDATE SET changes = changes + 1;
    END;
    CREATE TRIGGER clip_became AFTER UPDATE ON clip BEGIN
      INSERT INTO clip_change SELECT OLD.volume, OLD.project, 1 WHERE OLD.project IS NOT NULL
        ON CONFLICT DO UPDATE SET changes = changes + 1;
      INSERT INTO clip_change SELECT NEW.volume, NEW.project, 1 WHERE NEW.project IS NOT NULL
        ON CONFLICT DO UPDATE SET changes = changes + 1;
    END;
    `,
    `
    -- Clips, as they were read, that are parts of one take: in clip the take stands for them, with the unit of the first.
    CREATE TABLE part (
      volume TEXT NOT NULL,
      base TEXT NOT NULL, -- the unit it was taken with
      unit TEXT NOT NULL,
      take TEXT NOT NULL, -- unit of the take
      json TEXT NOT NULL,
      PRIMARY KEY (volume, unit)
    ) STRICT;
    CREATE INDEX part_by_base ON part (volume, base);
    CREATE INDEX part_by_take ON part (volume, take);
    CREATE INDEX clip_by_unit ON clip (volume, unit);

    -- Units whose clips may be parts of a take, by the folders in which the others are looked for.
    CREATE TABLE joinable (
      volume TEXT NOT NULL, scope TEXT NOT NULL, base TEXT NOT NULL, PRIMARY KEY (volume, scope, base)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX joinable_by_base ON joinable (volume, base);

    -- What lists of cards say of their clips, by the list's file.
    CREATE TABLE card_list (
      volume TEXT NOT NULL, scope TEXT NOT NULL, path TEXT NOT NULL, json TEXT NOT NULL, PRIMARY KEY (volume, scope, path)
    ) STRICT, WITHOUT ROWID;

    -- Folders to be looked through for takes.
    CREATE TABLE open_scope (volume TEXT NOT NULL, scope TEXT NOT NULL, PRIMARY KEY (volume, scope)) STRICT, WITHOUT ROWID;
    `,
    `
    -- 1: footage of which parts or frames are known to be missing.
    ALTER TABLE clip ADD COLUMN lacks INTEGER NOT NULL DEFAULT 0;
    UPDATE clip SET lacks = 1 WHERE exposable = 1 AND (json LIKE '%"missingFrames":[{%'
      OR json LIKE '%"missingParts":[{%' OR json LIKE '%"missingNames":["%');
    CREATE INDEX clip_lacking ON clip (volume, ready_at) WHERE lacks = 1;
    `,
    `
    -- Projects whose clips the search for groups holds in memory, and units of theirs whose clips changed since it read them.
    CREATE TABLE clip_watched (volume TEXT NOT NULL, project TEXT NOT NULL, PRIMARY KEY (volume, project)) STRICT, WITHOUT ROWID;
    CREATE TABLE clip_touched (
      volume TEXT NOT NULL, project TEXT NOT NULL, unit TEXT NOT NULL, PRIMARY KEY (volume, project, unit)
    ) STRICT, WITHOUT ROWID;
    CREATE TRIGGER clip_touched_new AFTER INSERT ON clip BEGIN
      INSERT OR IGNORE INTO clip_touched SELECT volume, project, NEW.unit FROM clip_watched
        WHERE volume = NEW.volume AND project = NEW.project;
    END;
    CREATE TRIGGER clip_touched_old AFTER DELETE ON clip BEGIN
      INSERT OR IGNORE INTO clip_touched SELECT volume, project, OLD.unit FROM clip_watched
        WHERE volume = OLD.volume AND project = OLD.project;
    END;
    CREATE TRIGGER clip_touched_both AFTER UPDATE ON clip BEGIN
      INSERT OR IGNORE INTO clip_touched SELECT volume, project, OLD.unit FROM clip_watched
        WHERE volume = OLD.volume AND project = OLD.project;
      INSERT OR IGNORE INTO clip_touched SELECT volume, project, NEW.unit FROM clip_watched
        WHERE volume = NEW.volume AND project = NEW.project;
    END;
    -- What was kept tells less of a group than is told now: it is searched once more.
    DELETE FROM multicam;
    `,
    `
    -- Multicam groups by the sessions they are of, so that a clip that comes or goes has its session written, not the project.
    DROP TABLE multicam;
    CREATE TABLE multicam (
      volume TEXT NOT NULL,
      project TEXT NOT NULL,
      changes INTEGER NOT NULL, -- of clip_change, when the clips were read
      signs TEXT NOT NULL,
      PRIMARY KEY (volume, project)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE multicam_session (
      volume TEXT NOT NULL,
      project TEXT NOT NULL,
      session INTEGER NOT NULL,
      json TEXT NOT NULL, -- list of groups
      PRIMARY KEY (volume, project, session)
    ) STRICT;
    `,
    `
    -- Proxies and renders whose source is not known or not here, as the last search found them. It was not kept: all is searched once more.
    CREATE TABLE unsourced_clip (
      volume TEXT NOT NULL, project TEXT NOT NULL, unit TEXT NOT NULL, PRIMARY KEY (volume, project, unit)
    ) STRICT, WITHOUT ROWID;
    DELETE FROM multicam;
    `,
    `
    -- 1: footage, but for stills, that no reader could read.
    ALTER TABLE clip ADD COLUMN undecoded INTEGER NOT NULL DEFAULT 0;
    UPDATE clip SET undecoded = 1 WHERE exposable = 1 AND json ->> 'state' = 'not-decoded' AND json ->> 'kind' <> 'still';
    CREATE INDEX clip_undecoded ON clip (volume, ready_at) WHERE undecoded = 1;
    -- What was kept tells less of groups, and of takes that lie there twice, than is told now: they are searched once more.
    DELETE FROM multicam;
    DELETE FROM multicam_session;
    `,
  ],
};
