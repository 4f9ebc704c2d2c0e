import type { Schema } from './schema.ts';

/** Cannot be rebuilt. */
export const LEDGER: Schema = {
  name: 'ledger',
  applicationId: 0x68_72_6d_32, // "hrm2"
  migrations: [
    `
    CREATE TABLE meta (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;

    -- One row: this version of this file (size and time of the working volume's file) lies on this shelf.
    CREATE TABLE copy (
      volume TEXT NOT NULL,
      project TEXT,
      dir TEXT NOT NULL,
      name TEXT NOT NULL,
      size INTEGER NOT NULL,
      mtime_ns INTEGER NOT NULL,
      shelf TEXT NOT NULL,
      shelf_device TEXT, -- two shelves on one device are one copy when it is lost
      algorithm TEXT NOT NULL,
      hash TEXT NOT NULL,
      grade TEXT NOT NULL, -- 'verified': read back from its medium after writing, hash equal
      copied_at INTEGER NOT NULL,
      verified_at INTEGER,
      PRIMARY KEY (volume, dir, name, shelf, size, mtime_ns)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX copy_verified ON copy (volume) WHERE grade = 'verified';

    CREATE TABLE advisory_state (id TEXT PRIMARY KEY, json TEXT NOT NULL) STRICT;

    CREATE TABLE space_sample (
      volume TEXT NOT NULL,
      at INTEGER NOT NULL, -- ms since 1970
      total_bytes INTEGER NOT NULL,
      available_bytes INTEGER NOT NULL,
      PRIMARY KEY (volume, at)
    ) STRICT, WITHOUT ROWID;

    CREATE TABLE snooze (advisory TEXT PRIMARY KEY, until INTEGER NOT NULL) STRICT, WITHOUT ROWID;
    `,
    `
    -- What was on a card, or in a manifest. Of a card that was formatted since nothing else is left.
    CREATE TABLE inventory (
      id TEXT PRIMARY KEY,
      taken_at INTEGER NOT NULL, -- ms since 1970
      head TEXT NOT NULL, -- JSON of the inventory without its files
      files TEXT NOT NULL -- JSON: path, bytes or null, ms since 1970 or null of each file
    ) STRICT;

    -- What had arrived of an inventory (its key), and which copied cards were never seen.
    CREATE TABLE card_note (key TEXT PRIMARY KEY, text TEXT NOT NULL) STRICT, WITHOUT ROWID;
    `,
    `
    -- What was removed from a volume, by the hour it was noticed in.
    CREATE TABLE removal (
      volume TEXT NOT NULL,
      hour INTEGER NOT NULL, -- its beginning, ms since 1970
      area TEXT NOT NULL,
      project TEXT NOT NULL, -- empty: outside of all
      files INTEGER NOT NULL,
      bytes INTEGER NOT NULL,
      footage_bytes INTEGER NOT NULL,
      PRIMARY KEY (volume, hour, area, project)
    ) STRICT, WITHOUT ROWID;
    `,
    `
    -- What was measured of a volume's speed, and how the volume was put together then.
    CREATE TABLE speed_sample (
      volume TEXT NOT NULL, at INTEGER NOT NULL, build TEXT NOT NULL, json TEXT NOT NULL, PRIMARY KEY (volume, at)
    ) STRICT, WITHOUT ROWID;
    `,
    `
    -- What came to a volume and went, by the hour; one row of some 40 bytes for each hour in which anything did.
    CREATE TABLE growth_hour (
      volume TEXT NOT NULL,
      hour INTEGER NOT NULL, -- since 1970
      ingest_bytes INTEGER NOT NULL,
      other_bytes INTEGER NOT NULL,
      deleted_bytes INTEGER NOT NULL,
      PRIMARY KEY (volume, hour)
    ) STRICT, WITHOUT ROWID;
    -- Up to when it is booked, and how things stood then.
    CREATE TABLE growth_mark (
      volume TEXT PRIMARY KEY, at INTEGER NOT NULL, used_bytes INTEGER NOT NULL, footage_bytes INTEGER NOT NULL
    ) STRICT, WITHOUT ROWID;
    -- Was never written.
    DROP TABLE space_sample;
    `,
    `
    -- Shoot plans that were kept by command.
    CREATE TABLE kept_plan (
      project TEXT NOT NULL, at INTEGER NOT NULL, json TEXT NOT NULL, PRIMARY KEY (project, at)
    ) STRICT, WITHOUT ROWID;
    `,
    `
    -- Was never written: copies are kept by what is in them, so that a file that is renamed keeps its copies.
    DROP TABLE copy;
    CREATE TABLE content (
      id INTEGER PRIMARY KEY, algorithm TEXT NOT NULL, hash TEXT NOT NULL, size INTEGER NOT NULL, UNIQUE (algorithm, hash, size)
    ) STRICT;
    -- This version (size and time) of a file of a working volume had this content when it was read.
    CREATE TABLE source (
      volume TEXT NOT NULL,
      dir TEXT NOT NULL,
      name TEXT NOT NULL,
      size INTEGER NOT NULL,
      mtime_ns INTEGER NOT NULL,
      content INTEGER NOT NULL,
      read_at INTEGER NOT NULL,
      PRIMARY KEY (volume, dir, name, size, mtime_ns)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX source_by_content ON source (content);
    CREATE TABLE shelf (
      id TEXT PRIMARY KEY, -- from its marker
      name TEXT NOT NULL,
      drive TEXT, -- two shelves on one drive are one copy when it is lost
      seen_at INTEGER NOT NULL,
      total_bytes INTEGER NOT NULL,
      free_bytes INTEGER NOT NULL
    ) STRICT, WITHOUT ROWID;
    -- One row: a file on a shelf.
    CREATE TABLE copy (
      shelf TEXT NOT NULL,
      path TEXT NOT NULL,
      content INTEGER NOT NULL,
      volume TEXT NOT NULL,
      project TEXT,
      kind TEXT NOT NULL,
      dir TEXT NOT NULL, -- where the file was on the volume
      name TEXT NOT NULL,
      mtime_ns INTEGER NOT NULL,
      grade TEXT NOT NULL, -- how surely what was read came from the medium
      state TEXT NOT NULL, -- 'good', 'differs', 'unread'
      copied_at INTEGER NOT NULL,
      read_at INTEGER NOT NULL, -- last read back
      listed INTEGER NOT NULL, -- 1: it stands in a list on the shelf, or is to stand in none
      PRIMARY KEY (shelf, path)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX copy_by_content ON copy (content);
    CREATE INDEX copy_by_age ON copy (shelf, read_at);
    CREATE INDEX copy_unlisted ON copy (shelf, volume, path) WHERE listed = 0;
    CREATE INDEX copy_bad ON copy (shelf, volume, path) WHERE state <> 'good';
    CREATE TABLE backup_note (key TEXT PRIMARY KEY, text TEXT NOT NULL) STRICT, WITHOUT ROWID;
    `,
    `
    -- Hashes of a content in the formats of lists that came with footage.
    CREATE TABLE content_sum (
      content INTEGER NOT NULL, format TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (content, format)
    ) STRICT, WITHOUT ROWID;
    -- Cards that a person said are kept as they are, by their inventories.
    CREATE TABLE kept_card (
      inventory TEXT PRIMARY KEY,
      said_at INTEGER NOT NULL, -- ms since 1970
      said_by TEXT NOT NULL, -- the system's name of the person
      ended_at INTEGER, -- since when it does not hold any more; NULL: it holds
      lacking INTEGER NOT NULL -- files that were not on the card when it was seen again, which ended it
    ) STRICT, WITHOUT ROWID;
    `,
    `
    -- A program of the user's says that it has copied this version of a file. Nobody else has seen that copy.
    CREATE TABLE reported (
      name TEXT NOT NULL, -- what it copies to, as the configuration calls it
      volume TEXT NOT NULL,
      dir TEXT NOT NULL,
      file TEXT NOT NULL,
      size INTEGER NOT NULL,
      mtime_ns INTEGER NOT NULL,
      content INTEGER, -- where it was known
      place TEXT, -- in the program's words
      read_path TEXT, -- where it can be read, and was not yet
      reported_at INTEGER NOT NULL,
      PRIMARY KEY (name, volume, dir, file, size, mtime_ns)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX reported_by_content ON reported (name, content) WHERE content IS NOT NULL;
    CREATE INDEX reported_unread ON reported (name, volume, dir, file) WHERE read_path IS NOT NULL;
    `,
    `
    -- What channels are still to be told, in the order in which it came up.
    CREATE TABLE message (
      seq INTEGER PRIMARY KEY AUTOINCREMENT, -- never used twice: receivers tell a repeated delivery by it
      channel TEXT NOT NULL,
      advisory TEXT NOT NULL,
      event TEXT NOT NULL,
      rank INTEGER NOT NULL, -- of its severity: 0 notice, 1 warning, 2 critical
      json TEXT NOT NULL, -- the advisory as it was
      made_at INTEGER NOT NULL, -- ms since 1970
      handed INTEGER NOT NULL -- 1: the channel has it, and has not answered yet
    ) STRICT;
    CREATE INDEX message_by_channel ON message (channel, seq);
    CREATE INDEX message_by_advisory ON message (channel, advisory);
    -- Advisories that a channel was handed a message on, and not yet that they are over.
    CREATE TABLE told (channel TEXT NOT NULL, advisory TEXT NOT NULL, PRIMARY KEY (channel, advisory)) STRICT, WITHOUT ROWID;
    `,
    `
    -- How each volume stood: a row a minute of the last two days, one an hour of all time (some 26,000 in three years).
    CREATE TABLE moment (
      volume TEXT NOT NULL,
      grain INTEGER NOT NULL, -- seconds: 60 or 3600
      at INTEGER NOT NULL, -- its beginning, ms since 1970
      need_bps REAL, need_for TEXT, budget_bps REAL, given_bps REAL, peak_bps REAL,
      used_bytes INTEGER, room_end_bytes INTEGER, exposed_bytes INTEGER,
      verified_at INTEGER, -- ms since 1970: a copy was last read back
      PRIMARY KEY (volume, grain, at)
    ) STRICT, WITHOUT ROWID;
    `,
    `
    -- Was never written: that an advisory is snoozed is kept in its state, so that both go together.
    DROP TABLE snooze;
    `,
    `
    -- Which channel was put a report on which day; the first row of a channel is the day before its first report.
    CREATE TABLE report (
      channel TEXT NOT NULL,
      day TEXT NOT NULL, -- by the clocks of the place
      until_at INTEGER NOT NULL, -- up to when it tells, ms since 1970
      sent INTEGER NOT NULL, -- 1: it was answered
      PRIMARY KEY (channel, day)
    ) STRICT, WITHOUT ROWID;
    -- What reports tell of: backups that ended, and what was announced.
    CREATE TABLE ended_run (
      id INTEGER PRIMARY KEY, ended_at INTEGER NOT NULL, kind TEXT NOT NULL, json TEXT NOT NULL
    ) STRICT;
    CREATE INDEX ended_run_by_time ON ended_run (ended_at);
    CREATE TABLE news (
      id INTEGER PRIMARY KEY, at INTEGER NOT NULL, event TEXT NOT NULL, json TEXT NOT NULL
    ) STRICT;
    CREATE INDEX news_by_time ON news (at);
    `,
    `
    -- Lists that lie, or lay, on a card: what they say of contents, as it was read from it.
    CREATE TABLE inventory_list (
      inventory TEXT NOT NULL,
      place TEXT NOT NULL, -- its file, or the folder of a history, from the card's first folder
      state TEXT NOT NULL, -- whole, unusable, unread
      head TEXT NOT NULL, -- JSON: where its paths begin, of which state of its files it was made, why nothing is known of it
      files TEXT NOT NULL, -- JSON: path, size and values by format, one after the other
      PRIMARY KEY (inventory, place)
    ) STRICT;
    `,
  ],
};
