import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { describe, expect, test } from 'vitest';
import { prepareDatabase, refuseNewer } from '../../../src/rim/store/database.ts';
import { LEDGER } from '../../../src/rim/store/ledger-schema.ts';
import { CATALOGUE, type Schema } from '../../../src/rim/store/schema.ts';
import { AT, faultOf, stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();

/** A schema that grows. */
const GROWING: Schema = {
  name: 'ledger',
  applicationId: 77,
  migrations: [
    'CREATE TABLE roll (name TEXT) STRICT',
    'ALTER TABLE roll ADD COLUMN reel TEXT',
    'CREATE TABLE box (n INTEGER)',
  ],
};
const upTo = (version: number): Schema => ({ ...GROWING, migrations: GROWING.migrations.slice(0, version) });
const prepare = (path: string, schema: Schema) => prepareDatabase({ path, schema, check: false, at: AT });

function readBack<Result>(path: string, read: (database: DatabaseSync) => Result): Result {
  const database = new DatabaseSync(path);
  try {
    return read(database);
  } finally {
    database.close();
  }
}

const versionOf = (path: string) => readBack(path, (database) => database.prepare('PRAGMA user_version').get());
const hashOf = (path: string) => createHash('sha256').update(readFileSync(path)).digest('hex');

describe('migrations', () => {
  test('a new file goes through all of them, without a backup', () => {
    const dir = folder();
    expect(prepare(join(dir, 'x.db'), GROWING)).toEqual({ created: true, damaged: false, notices: [] });
    expect(versionOf(join(dir, 'x.db'))).toEqual({ user_version: 3 });
    expect(readdirSync(dir)).toEqual(['x.db']);
  });

  test('clips that were kept before it was noted that nothing could be read of them are found all the same', () => {
    const path = join(folder(), 'catalogue.db');
    const before = CATALOGUE.migrations.findIndex((step) => step.includes('ADD COLUMN undecoded'));
    prepare(path, { ...CATALOGUE, migrations: CATALOGUE.migrations.slice(0, before) });
    readBack(path, (database) => {
      const insert = database.prepare(`INSERT INTO clip
        (volume, unit, base, area, project, exposable, ready_at, bytes, duration_us, lacks, json)
        VALUES ('stripe', :unit, :unit, 'project', 'P', :exposable, 1, 1, 0, 0, :json)`);
      const put = (unit: string, exposable: number, state: string, kind: string) =>
        insert.run({ unit, exposable, json: JSON.stringify({ state, kind }) });
      put('a', 1, 'not-decoded', 'original');
      put('b', 1, 'ready', 'original');
      put('c', 1, 'not-decoded', 'still');
      put('d', 0, 'not-decoded', 'proxy');
    });
    prepare(path, CATALOGUE);
    expect(readBack(path, (database) => database.prepare('SELECT unit FROM clip WHERE undecoded = 1').all())).toEqual([
      { unit: 'a' },
    ]);
  });

  test('an older file keeps its content, and a whole copy of it is made first', () => {
    const path = join(folder(), 'x.db');
    prepare(path, upTo(1));
    readBack(path, (database) => database.exec("INSERT INTO roll VALUES ('A001')"));
    const { created, notices } = prepare(path, GROWING);
    expect(created).toBe(false);
    expect(notices).toMatchObject([{ code: 'migrated', path: `${path}.schema-1-2027-03-04T04-00-00Z` }]);
    expect(readBack(path, (database) => database.prepare('SELECT * FROM roll').all())).toEqual([
      { name: 'A001', reel: null },
    ]);
    const backup = notices[0]?.path ?? '';
    expect(readBack(backup, (database) => database.prepare('SELECT * FROM roll').all())).toEqual([{ name: 'A001' }]);
    expect(versionOf(backup)).toEqual({ user_version: 1 });
    expect(prepare(path, GROWING).notices).toEqual([]);
  });

  test('one that fails changes nothing of its step, and keeps the steps before', () => {
    const path = join(folder(), 'x.db');
    prepare(path, upTo(1));
    const failing = {
      ...GROWING,
      migrations: [...upTo(2).migrations, 'CREATE TABLE box (n INTEGER); INSERT INTO nowhere VALUES (1)'],
    };
    expect(() => prepare(path, failing)).toThrow(
      expect.objectContaining({ code: 'failed', message: expect.stringContaining(path) }),
    );
    expect(versionOf(path)).toEqual({ user_version: 2 });
    expect(
      readBack(path, (database) => database.prepare("SELECT name FROM sqlite_schema WHERE name = 'box'").all()),
    ).toEqual([]);
    prepare(path, GROWING);
    expect(versionOf(path)).toEqual({ user_version: 3 });
  });

  test('the schemas in use have distinct marks', () => {
    expect(new Set([CATALOGUE.applicationId, LEDGER.applicationId]).size).toBe(2);
  });
});

describe('a state of a newer headroomd', () => {
  test.each([['catalogue.db', CATALOGUE.migrations.length] as const, ['ledger.db', LEDGER.migrations.length] as const])(
    'is refused and left as it is: %s',
    async (name, version) => {
      const stateDir = folder();
      await (await open(stateDir)).close();
      readBack(join(stateDir, name), (database) => database.exec('PRAGMA user_version = 99'));
      const hashes = () => ['catalogue.db', 'ledger.db'].map((each) => hashOf(join(stateDir, each)));
      const before = hashes();
      const fault = await faultOf(open(stateDir));
      expect(fault.code).toBe('state-newer');
      expect(fault.message).toContain(join(stateDir, name));
      expect(fault.message).toMatch(new RegExp(`schema 99, this one knows ${version}\\).*Nothing was changed`));
      expect(hashes()).toEqual(before);
      expect(readdirSync(stateDir).sort()).toEqual(['catalogue.db', 'ledger.db', 'lock.db']);
      readBack(join(stateDir, name), (database) => database.exec(`PRAGMA user_version = ${version}`));
      expect((await open(stateDir)).notices).toEqual([]);
    },
  );

  test('also when the newer schema is in the log alone', () => {
    const path = join(folder(), 'x.db');
    prepare(path, upTo(1));
    const writer = new DatabaseSync(path);
    writer.exec('PRAGMA wal_autocheckpoint = 0; PRAGMA user_version = 3');
    expect(readFileSync(path).readUInt32BE(60)).toBe(1);
    expect(() => refuseNewer(path, upTo(1))).toThrow(expect.objectContaining({ code: 'state-newer' }));
    writer.close();
  });
});
