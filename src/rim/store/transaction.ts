import type { DatabaseSync } from 'node:sqlite';

/** Runs `work` as one transaction: all of it is stored, or nothing. */
export function inTransaction<Result>(database: DatabaseSync, work: () => Result): Result {
  database.exec('BEGIN');
  try {
    const result = work();
    database.exec('COMMIT');
    return result;
  } catch (error) {
    // SQLite rolls back by itself on a full disk and on I/O errors.
    if (database.isTransaction) database.exec('ROLLBACK');
    throw error;
  }
}
