import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { Worker } from 'node:worker_threads';
import { describe, expect, test } from 'vitest';
import { WorkerCalls } from '../../../src/rim/store/worker-calls.ts';
import { clipOf, someFile, statOf } from '../../contracts/catalogue.material.ts';
import { faultOf, stateFolders } from './state-folder.ts';

const { folder, open, cleanup } = stateFolders();

describe('the state folder', () => {
  test('is made with all its parents, for this user alone, whatever the umask', () => {
    const stateDir = join(folder(), 'state', 'headroomd');
    const script = `
      process.umask(0o027);
      import { openStore } from '${new URL('../../../src/rim/store/store.ts', import.meta.url).href}';
      import { readdirSync, statSync } from 'node:fs';
      const log = { debug() {}, info() {}, warn() {}, error() {} };
      const store = await openStore({ stateDir: ${JSON.stringify(stateDir)}, now: Date.now, log });
      await store.ledger.putAdvisories([{ id: 'a', json: '{}' }]);
      await store.catalogue.putFiles([]);
      const modes = readdirSync(${JSON.stringify(stateDir)}).map((name) => [name, (statSync(${JSON.stringify(stateDir)} + '/' + name).mode & 0o777).toString(8)]);
      console.log(JSON.stringify(modes));
      await store.close();`;
    const answer = execFileSync(process.execPath, ['--input-type=module', '-e', script], { encoding: 'utf8' });
    const modes = JSON.parse(answer) as [string, string][];
    expect(modes.map(([name]) => name)).toEqual(
      expect.arrayContaining(['catalogue.db', 'ledger.db', 'ledger.db-wal', 'lock.db', 'lock.pid']),
    );
    expect(modes.filter(([, mode]) => mode !== '600')).toEqual([]);
    expect((statSync(stateDir).mode & 0o777).toString(8)).toBe('700');
  });

  test('an orderly close leaves three databases and no log, and the next open finds everything', async () => {
    const stateDir = folder();
    const first = await open(stateDir);
    const file = someFile('Saltmarsh/1.mov');
    await first.catalogue.finishUnit('stripe', file.unit, [file], [clipOf([file])]);
    await first.ledger.putAdvisories([{ id: 'a', json: '{}' }]);
    await first.close();
    expect(readdirSync(stateDir).sort()).toEqual(['catalogue.db', 'ledger.db', 'lock.db']);
    const second = await open(stateDir);
    expect(second.notices).toEqual([]);
    expect(await second.catalogue.filesOfUnits('stripe', [file.unit])).toEqual([file]);
    expect(await second.catalogue.clips({})).toHaveLength(1);
    expect(await second.ledger.advisories()).toEqual([{ id: 'a', json: '{}' }]);
  });

  test('a second daemon is refused with the process that has it, in this process and in another', async () => {
    const stateDir = folder();
    const first = await open(stateDir);
    const fault = await faultOf(open(stateDir));
    expect(fault.code).toBe('state-locked');
    expect(fault.message).toContain(stateDir);
    expect(fault.message).toContain(`process ${process.pid}`);
    const script = `
      import { openStore } from '${new URL('../../../src/rim/store/store.ts', import.meta.url).href}';
      const log = { debug() {}, info() {}, warn() {}, error() {} };
      await openStore({ stateDir: ${JSON.stringify(stateDir)}, now: Date.now, log }).catch((fault) => console.log(fault.code, fault.message));`;
    const answer = execFileSync(process.execPath, ['--input-type=module', '-e', script], { encoding: 'utf8' });
    expect(answer).toMatch(new RegExp(`^state-locked .*process ${process.pid}`));
    await first.close();
    await (await open(stateDir)).close();
  });

  test('a state folder that cannot be: a file in its place, a folder in place of a database', async () => {
    const parent = folder();
    writeFileSync(join(parent, 'file'), 'not a folder');
    const atFile = await faultOf(open(join(parent, 'file')));
    expect(atFile).toMatchObject({ code: 'state-unwritable', message: expect.stringContaining(join(parent, 'file')) });
    const below = await faultOf(open(join(parent, 'file', 'state')));
    expect(below).toMatchObject({ code: 'state-unwritable', message: expect.stringContaining('--state') });
    mkdirSync(join(parent, 'state', 'catalogue.db'), { recursive: true });
    const inPlace = await faultOf(open(join(parent, 'state')));
    expect(inPlace).toMatchObject({ code: 'state-unwritable', message: expect.stringContaining('catalogue.db') });
    expect(existsSync(join(parent, 'state', 'lock.pid'))).toBe(false);
  });
});

describe('calls', () => {
  test('are done in the order in which they were made, also around a list of many pages', async () => {
    const { catalogue } = await open(folder());
    const many = Array.from({ length: 9001 }, (_, n) => someFile(`Saltmarsh/seq/${n}.dpx`, { unit: 'seq', size: 1 }));
    const done: string[] = [];
    const note = (name: string) => () => done.push(name);
    const putting = catalogue.putFiles(many).then(note('put'));
    const listing = catalogue.compareListing(
      'stripe',
      'Saltmarsh/seq',
      many.map((file) => statOf(file)),
      [],
    );
    const forgetting = catalogue.forget('stripe', ['Saltmarsh']);
    const counting = catalogue.counts();
    await Promise.all([
      putting,
      listing.then(note('list')),
      forgetting.then(note('forget')),
      counting.then(note('count')),
    ]);
    expect(done).toEqual(['put', 'list', 'forget', 'count']);
    expect(await listing).toEqual({ fresh: [], moved: [], replacing: [], gone: [] });
    expect(await forgetting).toMatchObject({ units: [], files: 9001, bytes: 9001 });
    expect(await counting).toEqual({ files: 0, clips: 0 });
  });

  test('a list may be changed by its owner once it was handed over', async () => {
    const { catalogue } = await open(folder());
    for (const length of [3, 9001]) {
      const files = Array.from({ length }, (_, n) => someFile(`Saltmarsh/${length}/${n}.dpx`, { unit: `u${length}` }));
      const putting = catalogue.putFiles(files);
      files.length = 0;
      await putting;
      expect(await catalogue.filesOfUnits('stripe', [`u${length}`])).toHaveLength(length);
    }
  });

  test('close lets long answers under way arrive; later calls are refused', async () => {
    const store = await open(folder());
    const many = Array.from({ length: 9001 }, (_, n) => someFile(`s/${n}.dpx`, { unit: 'seq' }));
    await store.catalogue.putFiles(many);
    const answer = store.catalogue.filesOfUnits('stripe', ['seq']);
    const closing = store.close();
    const refused = faultOf(store.catalogue.counts());
    expect(await answer).toHaveLength(9001);
    await closing;
    expect(await refused).toMatchObject({ code: 'failed', message: 'The store is closed.' });
    expect(await faultOf(store.catalogue.counts())).toMatchObject({ code: 'failed' });
    await store.close();
  });

  test('one bad record rejects its call, stores nothing of it, and the next call goes on', async () => {
    const { catalogue } = await open(folder());
    const bad = someFile('b.mov', { size: 0.5 });
    const fault = await faultOf(catalogue.putFiles([someFile('a.mov'), bad]));
    expect(fault).toMatchObject({ code: 'failed', message: expect.stringContaining('catalogue.db') });
    expect(fault.cause).toMatchObject({
      name: 'Error',
      code: 'ERR_SQLITE_ERROR',
      message: expect.stringContaining('size'),
    });
    const uncloneable = someFile('c.mov', { project: (() => {}) as unknown as string });
    expect(await faultOf(catalogue.putFiles([uncloneable]))).toMatchObject({ code: 'failed' });
    expect(await catalogue.counts()).toEqual({ files: 0, clips: 0 });
    expect(await catalogue.projects(1)).toEqual([]);
    const good = someFile('c.mov');
    await catalogue.putFiles([good]);
    expect(await catalogue.filesOfUnits('stripe', ['a.mov'])).toEqual([]);
    expect(await catalogue.filesOfUnits('stripe', [good.unit])).toEqual([good]);
  });
});

describe('calls that are under way', () => {
  test('each begins and ends once, answered, refused, or left alone by a worker that died; every sign of it is noted', async () => {
    const script = `
      const { parentPort } = require('node:worker_threads');
      parentPort.postMessage({ type: 'opened', notices: [] });
      parentPort.on('message', ({ id, method }) => {
        if (method === 'recall') process.exit(7);
        if (method === 'condition') parentPort.postMessage({ type: 'done', id, value: 'ok', list: [], more: false });
      });`;
    const worker = new Worker(script, { eval: true });
    cleanup(() => void worker.terminate());
    let under = 0;
    let moved = 0;
    const calls = new WorkerCalls(...([worker, () => {}, () => {}] as const), {
      begins: () => {
        under += 1;
      },
      ends: () => {
        under -= 1;
      },
      moved: () => {
        moved += 1;
      },
    });
    await calls.opened();
    const told = moved;
    const left = calls.call('counts', { volume: null });
    const answered = calls.call('condition', null);
    expect(under).toBe(2);
    await answered;
    expect([under, moved - told]).toEqual([1, 1]);
    const faults = [left, calls.call('recall', { key: 'a' })].map(faultOf);
    expect((await Promise.all(faults)).map(({ code }) => code)).toEqual(['failed', 'failed']);
    expect(under).toBe(0);
    await faultOf(calls.call('condition', null));
    expect(under).toBe(0);
  });
});

describe('a worker that dies', () => {
  test('rejects what is pending and what comes, and says so once', async () => {
    const script = `
      const { parentPort } = require('node:worker_threads');
      parentPort.postMessage({ type: 'opened', notices: [] });
      parentPort.on('message', () => { if (process.env.HOW === 'exit') process.exit(7); throw new Error('out of luck'); });`;
    for (const how of ['exit', 'throw']) {
      const worker = new Worker(script, { eval: true, env: { HOW: how } });
      cleanup(() => void worker.terminate());
      const deaths: string[] = [];
      const calls = new WorkerCalls(
        worker,
        (fault) => deaths.push(fault.message),
        () => {},
      );
      expect(await calls.opened()).toEqual([]);
      const pending = [calls.call('counts', { volume: null }), calls.call('condition', null)].map(faultOf);
      for (const fault of await Promise.all(pending)) {
        expect(fault.code).toBe('failed');
        expect(fault.message).toContain(how === 'exit' ? 'code 7' : 'out of luck');
      }
      expect(await faultOf(calls.call('counts', { volume: null }))).toMatchObject({ code: 'failed' });
      expect(await faultOf(calls.close())).toMatchObject({ code: 'failed' });
      expect(deaths).toHaveLength(1);
    }
  });
});
