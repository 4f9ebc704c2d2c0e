import { randomUUID } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { storeFault } from './damage.ts';
import { CONNECTION, type Prepared, prepareDatabase, refuseNewer } from './database.ts';
import { LEDGER } from './ledger-schema.ts';
import { lockState, type StateLock } from './lock.ts';
import type { StoreNotice, WorkerSettings } from './protocol.ts';
import { CATALOGUE } from './schema.ts';

export interface OpenState {
  /** The only connection: the catalogue as `main`, the ledger attached as `ledger`. */
  database: DatabaseSync;
  cataloguePath: string;
  ledgerPath: string;
  notices: StoreNotice[];
  /** Lets go of the pages that were read and are kept for the next time. */
  spare(): void;
  /** Writes the logs back and lets the state go; `clean` false makes the next start check the databases. */
  close(clean: boolean): void;
}

/** Opens the state folder for this process alone. Throws `StoreFault`, having changed no database. */
export function openState({ stateDir, at }: WorkerSettings): OpenState {
  const cataloguePath = join(stateDir, 'catalogue.db');
  const ledgerPath = join(stateDir, 'ledger.db');
  const lock = lockState(stateDir, at);
  try {
    refuseNewer(cataloguePath, CATALOGUE);
    refuseNewer(ledgerPath, LEDGER);
    return openChecked(lock, cataloguePath, ledgerPath, at);
  } catch (error) {
    // As it was found: an unclean stop stays one, a refusal does not become one.
    lock.release(!lock.unclean);
    throw storeFault(error, stateDir);
  }
}

/** Damage that shows itself while opening is looked for with a whole check, which sets the bad file aside. */
function openChecked(lock: StateLock, cataloguePath: string, ledgerPath: string, at: number): OpenState {
  try {
    return openBoth(lock, cataloguePath, ledgerPath, at, lock.unclean);
  } catch (error) {
    if (lock.unclean || storeFault(error, cataloguePath).code !== 'state-damaged') throw error;
    return openBoth(lock, cataloguePath, ledgerPath, at, true);
  }
}

function openBoth(lock: StateLock, cataloguePath: string, ledgerPath: string, at: number, check: boolean): OpenState {
  const earlierDamage = hasSetAside(dirname(ledgerPath));
  const catalogue = prepareDatabase({ path: cataloguePath, schema: CATALOGUE, check, at });
  const ledger = prepareDatabase({ path: ledgerPath, schema: LEDGER, check, at });
  const database = connect(cataloguePath, ledgerPath);
  try {
    const recognised = recogniseLedger(database, ledgerPath, catalogue, ledger, earlierDamage);
    const unclean = lock.unclean ? [uncleanNotice(cataloguePath)] : [];
    const notices = [...unclean, ...catalogue.notices, ...ledger.notices, ...recognised];
    return {
      database,
      cataloguePath,
      ledgerPath,
      notices,
      spare: () => database.exec('PRAGMA shrink_memory'),
      close: (clean) => closeAll(database, lock, clean),
    };
  } catch (error) {
    database.close();
    throw storeFault(error, ledgerPath);
  }
}

function connect(cataloguePath: string, ledgerPath: string): DatabaseSync {
  const database = new DatabaseSync(cataloguePath);
  try {
    database.exec(CONNECTION);
    database.prepare('ATTACH ? AS ledger').run(ledgerPath);
    database.exec('PRAGMA main.synchronous = NORMAL; PRAGMA ledger.synchronous = FULL');
    database.exec('PRAGMA main.journal_size_limit = 67108864; PRAGMA ledger.journal_size_limit = 67108864');
    database.exec('CREATE TEMP TABLE doomed (id INTEGER PRIMARY KEY)');
    return database;
  } catch (error) {
    database.close();
    throw storeFault(error, cataloguePath);
  }
}

/**
 * Makes sure that a ledger which is not the one this catalogue knew is marked lost for good: an empty ledger reads like
 * "there are no copies", and that would be a statement nobody has checked.
 */
function recogniseLedger(
  database: DatabaseSync,
  path: string,
  catalogue: Prepared,
  ledger: Prepared,
  earlierDamage: boolean,
): StoreNotice[] {
  const known = readMeta(database, 'main', 'ledger_id');
  const found = readMeta(database, 'ledger', 'id');
  const id = found ?? randomUUID();
  const missing = found === null && !ledger.damaged && (known !== null || earlierDamage || catalogue.damaged);
  const unknown = found !== null && known !== null && known !== found;
  database.exec('BEGIN IMMEDIATE');
  if (ledger.damaged || missing || unknown) writeMeta(database, 'ledger', 'lost', '1');
  writeMeta(database, 'ledger', 'id', id);
  database.exec('COMMIT');
  if (known !== id) writeMeta(database, 'main', 'ledger_id', id);
  const next = 'What is known of copies counts as lost until the shelves are read again.';
  if (missing) return [{ code: 'ledger-missing', path, message: `${path} was there before and is gone. ${next}` }];
  if (!unknown) return [];
  return [{ code: 'ledger-unknown', path, message: `${path} is not the ledger that was here before. ${next}` }];
}

function readMeta(database: DatabaseSync, schema: 'main' | 'ledger', key: string): string | null {
  const row = database.prepare(`SELECT value FROM ${schema}.meta WHERE key = ?`).get(key);
  return row === undefined ? null : String(row['value']);
}

function writeMeta(database: DatabaseSync, schema: 'main' | 'ledger', key: string, value: string): void {
  const sql = `INSERT INTO ${schema}.meta VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value`;
  database.prepare(sql).run(key, value);
}

/** An earlier start set a database aside; perhaps it was killed before it could write into the new one what was lost. */
function hasSetAside(stateDir: string): boolean {
  return readdirSync(stateDir).some((name) => /^(ledger|catalogue)\.db\.damaged-/.test(name));
}

function uncleanNotice(path: string): StoreNotice {
  return { code: 'unclean-stop', path, message: 'The last stop was not orderly; the databases were checked.' };
}

function closeAll(database: DatabaseSync, lock: StateLock, clean: boolean): void {
  let done = false;
  try {
    if (clean) {
      database.exec('PRAGMA main.wal_checkpoint(TRUNCATE)');
      database.exec('PRAGMA ledger.wal_checkpoint(TRUNCATE)');
    }
    database.close();
    done = clean;
  } finally {
    lock.release(done);
  }
}
