import { copyFileSync, existsSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { DatabaseSync } from 'node:sqlite';
import { describe, expect, test } from 'vitest';
import { clipOf, someFile } from '../../contracts/catalogue.material.ts';
import { faultOf, stateFolders } from './state-folder.ts';

const { folder, open } = stateFolders();
const FILE = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh' });
const GARBAGE = 'This is not a database. '.repeat(1000);

/** A state with one clip and one advisory, closed. */
async function usedState(files = 1): Promise<string> {
  const stateDir = folder();
  const store = await open(stateDir);
  const more = Array.from({ length: files - 1 }, (_, n) => someFile(`Saltmarsh/${n}/more-${n}.mov`));
  await store.catalogue.putFiles(more);
  await store.catalogue.finishUnit('stripe', FILE.unit, [FILE], [clipOf([FILE])]);
  await store.ledger.putAdvisories([{ id: 'a', json: '{}' }]);
  await store.close();
  return stateDir;
}

/** Overwrites the pages of a file from one on (the first is 0); the header stays. */
function spoil(path: string, fromPage: number): void {
  const bytes = readFileSync(path);
  bytes.fill(0xa5, fromPage * 4096);
  writeFileSync(path, bytes);
}

function asideOf(stateDir: string, name: string): string[] {
  return readdirSync(stateDir).filter((each) => each.startsWith(`${name}.damaged-`));
}

describe('a catalogue that is no database', () => {
  test('is set aside byte for byte, and the catalogue starts empty; the ledger stays', async () => {
    const stateDir = await usedState();
    writeFileSync(join(stateDir, 'catalogue.db'), GARBAGE);
    const store = await open(stateDir);
    expect(asideOf(stateDir, 'catalogue.db')).toEqual(['catalogue.db.damaged-2027-03-04T04-00-00Z']);
    const [notice] = store.notices;
    expect(notice).toMatchObject({
      code: 'catalogue-damaged',
      path: join(stateDir, 'catalogue.db.damaged-2027-03-04T04-00-00Z'),
    });
    expect(notice?.message).toMatch(/catalogue\.db is damaged.*set aside.*built again/);
    expect(readFileSync(notice?.path ?? '', 'utf8')).toBe(GARBAGE);
    expect(await store.catalogue.counts()).toEqual({ files: 0, clips: 0 });
    expect(await store.ledger.condition()).toBe('sound');
    expect(await store.ledger.advisories()).toHaveLength(1);
  });

  test('twice in the same second: the first one set aside is not overwritten', async () => {
    const stateDir = await usedState();
    for (const content of ['first '.repeat(999), 'second '.repeat(999)]) {
      writeFileSync(join(stateDir, 'catalogue.db'), content);
      await (await open(stateDir)).close();
    }
    const kept = asideOf(stateDir, 'catalogue.db').sort();
    expect(kept.map((name) => readFileSync(join(stateDir, name), 'utf8').slice(0, 6))).toEqual(['first ', 'second']);
  });

  test('a database of another program under our name is set aside too', async () => {
    const stateDir = folder();
    const foreign = new DatabaseSync(join(stateDir, 'catalogue.db'));
    foreign.exec('CREATE TABLE recipe (name TEXT); PRAGMA user_version = 40');
    foreign.close();
    const store = await open(stateDir);
    expect(store.notices.map((notice) => notice.code)).toEqual(['catalogue-damaged', 'ledger-missing']);
    const kept = new DatabaseSync(store.notices[0]?.path ?? '');
    expect(kept.prepare('SELECT count(*) AS n FROM recipe').get()).toEqual({ n: 0 });
    kept.close();
  });
});

describe('damage inside', () => {
  test('after an unclean stop it is found at the start', async () => {
    const stateDir = await usedState(2000);
    spoil(join(stateDir, 'catalogue.db'), 40);
    writeFileSync(join(stateDir, 'lock.pid'), '1\n');
    const store = await open(stateDir);
    expect(store.notices.map((notice) => notice.code)).toEqual(['unclean-stop', 'catalogue-damaged']);
    expect(await store.catalogue.counts()).toEqual({ files: 0, clips: 0 });
  });

  test('after a clean stop it is found by the call that meets it, and by the start after that', async () => {
    const stateDir = await usedState(2000);
    spoil(join(stateDir, 'catalogue.db'), 40);
    const store = await open(stateDir);
    expect(store.notices).toEqual([]);
    const fault = await faultOf(store.catalogue.filesOfUnits('stripe', [FILE.unit]));
    expect(fault).toMatchObject({ code: 'state-damaged', cause: { errcode: 11 } });
    expect(fault.message).toContain(join(stateDir, 'catalogue.db'));
    expect(await store.ledger.advisories()).toHaveLength(1);
    await store.close().catch(() => {});
    const next = await open(stateDir);
    expect(next.notices.map((notice) => notice.code)).toEqual(['unclean-stop', 'catalogue-damaged']);
    expect(await next.ledger.condition()).toBe('sound');
  });

  test.each(['catalogue', 'ledger'])(
    'in what every start reads is found at once, clean stop or not: %s',
    async (name) => {
      const stateDir = await usedState();
      spoil(join(stateDir, `${name}.db`), 1);
      const store = await open(stateDir);
      expect(store.notices.map((notice) => notice.code)).toEqual([`${name}-damaged`]);
      expect(await store.ledger.condition()).toBe(name === 'ledger' ? 'lost' : 'sound');
    },
  );

  test('a file cut short is damage', async () => {
    const stateDir = await usedState(2000);
    const path = join(stateDir, 'catalogue.db');
    writeFileSync(path, readFileSync(path).subarray(0, statSync(path).size / 2));
    writeFileSync(join(stateDir, 'lock.pid'), '1\n');
    expect((await open(stateDir)).notices.map((notice) => notice.code)).toContain('catalogue-damaged');
  });
});

describe('a ledger that is lost', () => {
  const lostFor = async (stateDir: string) => {
    const store = await open(stateDir);
    expect(await store.ledger.condition()).toBe('lost');
    expect(await store.ledger.advisories()).toEqual([]);
    await store.catalogue.finishUnit('stripe', FILE.unit, [FILE], [clipOf([FILE])]);
    expect((await store.catalogue.projects(1))[0]?.exposed).toBeNull();
    await store.close();
    const later = await open(stateDir);
    expect(later.notices).toEqual([]);
    expect(await later.ledger.condition()).toBe('lost');
    return store.notices;
  };

  test('a damaged one is set aside, and nothing is said of exposure ever after', async () => {
    const stateDir = await usedState();
    writeFileSync(join(stateDir, 'ledger.db'), GARBAGE);
    const notices = await lostFor(stateDir);
    expect(notices.map((notice) => notice.code)).toEqual(['ledger-damaged']);
    expect(readFileSync(notices[0]?.path ?? '', 'utf8')).toBe(GARBAGE);
  });

  test('a vanished one', async () => {
    const stateDir = await usedState();
    rmSync(join(stateDir, 'ledger.db'));
    const [notice] = await lostFor(stateDir);
    expect(notice).toMatchObject({ code: 'ledger-missing', path: join(stateDir, 'ledger.db') });
  });

  test('an emptied one', async () => {
    const stateDir = await usedState();
    writeFileSync(join(stateDir, 'ledger.db'), '');
    expect((await lostFor(stateDir)).map((notice) => notice.code)).toEqual(['ledger-missing']);
  });

  test('another one in its place', async () => {
    const [stateDir, other] = [await usedState(), folder()];
    await (await open(other)).close();
    copyFileSync(join(other, 'ledger.db'), join(stateDir, 'ledger.db'));
    expect((await lostFor(stateDir)).map((notice) => notice.code)).toEqual(['ledger-unknown']);
  });

  test('killed between setting both aside and marking the new one', async () => {
    const stateDir = folder();
    writeFileSync(join(stateDir, 'catalogue.db.damaged-2027-03-03T04-00-00Z'), GARBAGE);
    writeFileSync(join(stateDir, 'ledger.db.damaged-2027-03-03T04-00-00Z'), GARBAGE);
    expect((await lostFor(stateDir)).map((notice) => notice.code)).toEqual(['ledger-missing']);
  });

  test('its log goes aside with it', async () => {
    const stateDir = await usedState();
    writeFileSync(join(stateDir, 'ledger.db'), GARBAGE);
    writeFileSync(join(stateDir, 'ledger.db-wal'), 'log');
    await open(stateDir);
    const [aside] = asideOf(stateDir, 'ledger.db').filter((name) => name.endsWith('-wal'));
    expect(readFileSync(join(stateDir, aside ?? ''), 'utf8')).toBe('log');
  });

  test('a first start is no loss; a lock that is no database is no obstacle', async () => {
    const stateDir = folder();
    writeFileSync(join(stateDir, 'lock.db'), GARBAGE);
    const store = await open(stateDir);
    expect(store.notices).toEqual([]);
    expect(await store.ledger.condition()).toBe('sound');
    expect(existsSync(join(stateDir, 'lock.db.damaged-2027-03-04T04-00-00Z'))).toBe(true);
  });
});
