import { DatabaseSync } from 'node:sqlite';
import { setImmediate as turn } from 'node:timers/promises';
import { describe, expect, test } from 'vitest';
import { openCommitGroup } from '../../../src/rim/store/commit-group.ts';
import { inTransaction } from '../../../src/rim/store/transaction.ts';

/** A store with room for so many pages, whose calls are noted as they are answered. */
function stage(pages = 1000) {
  const database = new DatabaseSync(':memory:');
  database.exec(`CREATE TABLE roll (name TEXT NOT NULL); PRAGMA max_page_count = ${pages}`);
  const group = openCommitGroup(database);
  const put = database.prepare('INSERT INTO roll VALUES (?)');
  const answered: string[] = [];
  const call = (method: 'putFiles' | 'filesOfUnits' | 'recall', name: string, work: () => void): void => {
    try {
      group.prepare(method);
      work();
      group.hold({
        done: () => void answered.push(name),
        failed: () => void answered.push(`${name} failed`),
      });
    } catch (error) {
      group.failed(error);
      answered.push(`${name} failed`);
    }
  };
  const write = (name: string, text: string | null = name) =>
    call('putFiles', name, () => inTransaction(database, () => void put.run(text)));
  const stored = () => database.prepare('SELECT name FROM roll').all().length;
  return { answered, call, database, group, stored, write };
}

describe('writes that come in together', () => {
  test('are answered in their order, when they are stored', async () => {
    const { answered, call, database, write } = stage();
    write('one');
    call('filesOfUnits', 'a look', () => {});
    write('two');
    expect([answered, database.isTransaction]).toEqual([[], true]);
    await turn();
    expect([answered, database.isTransaction]).toEqual([['one', 'a look', 'two'], false]);
  });

  test('one that fails undoes nothing of the others', async () => {
    const { answered, stored, write } = stage();
    write('one');
    write('bad', null);
    write('two');
    await turn();
    expect(answered).toEqual(['bad failed', 'one', 'two']);
    expect(stored()).toBe(2);
  });

  test('all fail when the disk is full: none was answered as stored', async () => {
    const { answered, stored, write } = stage(4);
    write('one');
    write('large', 'x'.repeat(100_000));
    write('two');
    await turn();
    expect(answered.filter((answer) => !answer.endsWith('failed'))).toHaveLength(stored());
    expect(answered).toContain('large failed');
    expect(answered.length).toBe(3);
  });

  test('another kind of call waits until they are stored', () => {
    const { answered, call, database, write } = stage();
    write('one');
    call('recall', 'other', () => expect(database.isTransaction).toBe(false));
    expect(answered).toEqual(['one', 'other']);
  });

  test('a group that grows large is stored at once', () => {
    const { answered, write } = stage();
    for (let count = 0; count < 250; count += 1) write(String(count));
    expect(answered.length).toBe(200);
  });
});
