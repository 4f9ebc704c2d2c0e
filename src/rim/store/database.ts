import { chmodSync, closeSync, existsSync, openSync, readSync, statSync } from 'node:fs';
import { basename } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { DamagedDatabase, fileTime, freeName, isDamage, StoreFault, setAside, storeFault } from './damage.ts';
import { createPrivate } from './lock.ts';
import type { StoreNotice } from './protocol.ts';
import type { Schema } from './schema.ts';

export interface Preparation {
  path: string;
  schema: Schema;
  /** Read the whole file and check it (after a stop that was not orderly). */
  check: boolean;
  /** Now, ms since 1970: files that are set aside are named after it. */
  at: number;
}

export interface Prepared {
  /** It was made just now, because there was none, an empty one, or a damaged one. */
  created: boolean;
  damaged: boolean;
  notices: StoreNotice[];
}

/** Settings of every connection. An exclusive lock also spares the shared-memory file, which a full disk can break. */
export const CONNECTION = 'PRAGMA locking_mode = EXCLUSIVE; PRAGMA temp_store = MEMORY; PRAGMA cache_size = -4000;';

/**
 * Refuses a database that a newer headroomd wrote, before anything is written. Only reads.
 * What is no readable database is left for `prepareDatabase` to judge.
 */
export function refuseNewer(path: string, schema: Schema): void {
  if (!existsSync(path)) return;
  const found = readVersion(path);
  if (found === null || found.applicationId !== schema.applicationId) return;
  const known = schema.migrations.length;
  if (found.version <= known) return;
  const what = `${path} was written by a newer headroomd (schema ${found.version}, this one knows ${known}).`;
  const next = 'Nothing was changed. Start the newer headroomd, or name another folder with --state.';
  throw new StoreFault('state-newer', `${what} ${next}`);
}

interface Version {
  applicationId: number;
  version: number;
}

/** `null` when it cannot be read. With a log beside it the newest header may be in there, and SQLite has to look. */
function readVersion(path: string): Version | null {
  try {
    const header = readHeader(path);
    return hasLog(path) ? readVersionWithLog(path) : header;
  } catch {
    return null;
  }
}

function readVersionWithLog(path: string): Version {
  const database = new DatabaseSync(path, { readOnly: true });
  try {
    return { applicationId: pragma(database, 'application_id'), version: pragma(database, 'user_version') };
  } finally {
    database.close();
  }
}

/**
 * The first bytes of a database file (https://www.sqlite.org/fileformat.html, 1.3); `null` for an empty file. Read
 * without SQLite, which takes the log of a file it cannot read for rubbish and removes it. Throws `DamagedDatabase`.
 */
function readHeader(path: string): Version | null {
  const header = Buffer.alloc(100);
  const file = openSync(path, 'r');
  try {
    const length = readSync(file, header, 0, header.length, 0);
    if (length === 0 && !hasLog(path)) return null;
    if (length < header.length) throw new DamagedDatabase(`it ends after ${length} bytes`);
  } finally {
    closeSync(file);
  }
  if (header.toString('latin1', 0, 16) !== 'SQLite format 3\0') throw new DamagedDatabase('file is not a database');
  return { version: header.readUInt32BE(60), applicationId: header.readUInt32BE(68) };
}

function hasLog(path: string): boolean {
  return existsSync(`${path}-wal`) && statSync(`${path}-wal`).size > 0;
}

/**
 * Brings one database to the state in which it can be used: there, ours, whole, in WAL mode and of the current schema.
 * A damaged one is set aside and a new one made. Throws `StoreFault`.
 */
export function prepareDatabase(preparation: Preparation): Prepared {
  const { path, schema, at } = preparation;
  try {
    return openAndMigrate(preparation);
  } catch (error) {
    if (!isDamage(error)) throw storeFault(error, path);
    try {
      const aside = setAside(path, at);
      const fresh = openAndMigrate({ ...preparation, check: false });
      return { ...fresh, created: true, damaged: true, notices: [damageNotice(schema, path, aside, error)] };
    } catch (second) {
      throw storeFault(second, path);
    }
  }
}

function damageNotice(schema: Schema, path: string, aside: string, error: unknown): StoreNotice {
  const why = error instanceof Error ? error.message : String(error);
  const what = `${path} is damaged (${why}). It was set aside as ${basename(aside)}, nothing was deleted.`;
  if (schema.name === 'catalogue') {
    return { code: 'catalogue-damaged', path: aside, message: `${what} The catalogue is built again from the files.` };
  }
  const next = 'What is known of copies is lost until the shelves are read again; until then nothing is said of them.';
  return { code: 'ledger-damaged', path: aside, message: `${what} ${next}` };
}

function openAndMigrate(preparation: Preparation): Prepared {
  const { path, schema, check } = preparation;
  createPrivate(path);
  readHeader(path);
  const database = new DatabaseSync(path);
  try {
    database.exec(CONNECTION);
    const version = pragma(database, 'user_version');
    const created = version === 0 && count(database, 'SELECT count(*) AS n FROM sqlite_schema') === 0;
    if (!created) examine(database, schema, version, check);
    const mode = database.prepare('PRAGMA journal_mode = WAL').get()?.['journal_mode'];
    if (mode !== 'wal') throw new Error(`this file system does not allow a write-ahead log (mode stays "${mode}")`);
    database.exec('PRAGMA synchronous = FULL');
    const notices = migrate(database, preparation, created ? 0 : version);
    return { created, damaged: false, notices };
  } finally {
    database.close();
  }
}

function examine(database: DatabaseSync, schema: Schema, version: number, check: boolean): void {
  if (pragma(database, 'application_id') !== schema.applicationId || version === 0) {
    throw new DamagedDatabase(`it is a database, but not the ${schema.name} of headroomd`);
  }
  if (version > schema.migrations.length) throw new DamagedDatabase(`its schema ${version} is unknown`);
  if (!check) return;
  const answer = database.prepare('PRAGMA quick_check(1)').get()?.['quick_check'];
  if (answer !== 'ok') throw new DamagedDatabase(String(answer).replaceAll(/\s+/g, ' ').trim());
}

function migrate(database: DatabaseSync, preparation: Preparation, from: number): StoreNotice[] {
  const { path, schema } = preparation;
  const target = schema.migrations.length;
  if (from === target) return [];
  const backup = from === 0 ? null : backUp(database, preparation, from);
  for (let version = from; version < target; version += 1) {
    const sql = schema.migrations[version] ?? '';
    const seal = `PRAGMA application_id = ${schema.applicationId}; PRAGMA user_version = ${version + 1}`;
    try {
      database.exec(`BEGIN IMMEDIATE; ${sql}; ${seal}; COMMIT`);
    } catch (error) {
      if (database.isTransaction) database.exec('ROLLBACK');
      throw error;
    }
  }
  if (backup === null) return [];
  const message = `${path} was brought from schema ${from} to ${target}. The earlier one is kept as ${basename(backup)}.`;
  return [{ code: 'migrated', path: backup, message }];
}

/** A whole copy of the database before its schema changes. */
function backUp(database: DatabaseSync, { path, at }: Preparation, version: number): string {
  const backup = freeName(`${path}.schema-${version}-${fileTime(at)}`);
  createPrivate(backup);
  database.prepare('VACUUM INTO ?').run(backup);
  chmodSync(backup, 0o600);
  return backup;
}

function pragma(database: DatabaseSync, name: 'application_id' | 'user_version'): number {
  return Number(database.prepare(`PRAGMA ${name}`).get()?.[name] ?? 0);
}

function count(database: DatabaseSync, sql: string): number {
  return Number(database.prepare(sql).get()?.['n'] ?? 0);
}
