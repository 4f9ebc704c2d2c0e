import type { DatabaseSync } from 'node:sqlite';

/** Runs `work` as one transaction, or as a part of the one under way: all of it is stored, or nothing. */
export function inTransaction<Result>(database: DatabaseSync, work: () => Result): Result {
  const [begin, end, undo] = database.isTransaction
    ? ['SAVEPOINT part', 'RELEASE part', 'ROLLBACK TO part; RELEASE part']
    : ['BEGIN', 'COMMIT', 'ROLLBACK'];
  database.exec(begin);
  try {
    const result = work();
    database.exec(end);
    return result;
  } catch (error) {
    // SQLite rolls back everything by itself on a full disk and on I/O errors.
    if (database.isTransaction) database.exec(undo);
    throw error;
  }
}
