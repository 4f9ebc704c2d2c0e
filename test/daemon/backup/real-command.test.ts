import { mkdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { CommandRun } from '../../../src/core/backup/command-run.ts';
import { runCommand } from '../../../src/daemon/backup/command-run.ts';
import { createCommandPort } from '../../../src/rim/command/command-port.ts';
import { whyNoShelf } from '../../rim/backup/shelves.ts';
import { realShelf } from './real-shelf.ts';

const COPIER = fileURLToPath(new URL('../../fixtures/commands/copier.mjs', import.meta.url));
const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: a program that copies to a drive of its own: ${why}`);

describe.skipIf(why !== null)('a program of the user that copies, with a real store', () => {
  let place: Awaited<ReturnType<typeof realShelf>>;
  let told: CommandRun[];
  beforeEach(async () => {
    place = await realShelf();
    told = [];
  });
  afterEach(() => place.clear());

  /** Its copies go to the drive that is a shelf elsewhere in these tests. */
  function run(
    how: string,
    over: { isLive?: boolean; readBack?: string | null; extra?: string[]; argv?: string[]; time?: AbortSignal } = {},
  ) {
    const { readBack = place.shelf.path, extra = [], time = new AbortController().signal } = over;
    const target = join(place.shelf.path, 'tape');
    const argv = over.argv ?? [process.execPath, COPIER, how, '{list}', '{root}', target, ...extra];
    const deps = {
      ...place.deps,
      reported: place.store.reported,
      commands: createCommandPort(place.folder, 200),
      isLive: () => over.isLive ?? true,
    };
    const job = { volume: place.volume, name: 'tape', argv, readBack };
    const stopping = new AbortController().signal;
    const ask = { job, cause: 'command' as const, startedAt: Date.now() };
    return runCommand(deps, ask, { stopping, time }, (now) => void told.push(now));
  }
  const listed = async () => {
    const { files } = await place.store.reported.unreported('stripe', 'tape', 0, null);
    return files.map(({ path }) => path);
  };
  const sums = () => place.store.reported.reportedSums();
  const three = async () => {
    for (const name of ['A001', 'A002', 'A003']) await place.put(`Saltmarsh/${name}.mov`, `take ${name}`);
  };

  test('what it copied and headroomd has read back from its medium counts; the next run has nothing to do', async () => {
    await three();
    const odd = 'Saltmarsh/caf\uf7e9.mov';
    mkdirSync(join(place.volume.path, 'Saltmarsh'), { recursive: true });
    writeFileSync(Buffer.from(join(place.volume.path, 'Saltmarsh/caf\xe9.mov'), 'latin1'), 'no UTF-8');
    await place.know(odd, 'original');
    const done = await run('good');
    expect(done).toMatchObject({
      ...{
        stage: 'done',
        why: null,
        wanted: { files: 4 },
        reported: { files: 4 },
        verified: { files: 4 },
        failures: 0,
      },
      progress: { share: 0.5, message: 'tape 4' },
    });
    expect(await place.exposedBytes()).toBe(0);
    expect(await sums()).toMatchObject([{ name: 'tape', files: 4, presentFiles: 4 }]);
    expect(await run('silent')).toMatchObject({ stage: 'done', wanted: { files: 0 } });
  });

  test('what nobody could read does not count, and is not listed again', async () => {
    await three();
    expect(await run('word', { readBack: null })).toMatchObject({ stage: 'done', reported: { files: 3 } });
    expect(await place.exposedBytes()).toBe(27);
    expect(await listed()).toEqual([]);
    await place.put('Saltmarsh/A002.mov', 'take A002, again');
    expect(await listed()).toEqual(['Saltmarsh/A002.mov']);
  });

  test('a lie is found out when it is read back: it is a failure, counts for nothing, and is listed again', async () => {
    await three();
    const run1 = await run('lies');
    expect(run1).toMatchObject({ stage: 'done', reported: { files: 3 }, verified: { files: 0 }, failures: 3 });
    expect(run1.troubles[0]?.message).toBe(
      `tape was said to have Saltmarsh/A001.mov at ${place.shelf.path}/tape/Saltmarsh/A001.mov, and what lies there is something else. It does not count as copied; look what the program does`,
    );
    expect(await place.exposedBytes()).toBe(27);
    expect(await listed()).toHaveLength(3);
    expect(readFileSync(join(place.shelf.path, 'tape/Saltmarsh/A001.mov'), 'utf8')).toBe('Xake A001');
  });

  test('what it points at in another way than with a copy is not taken for one', async () => {
    await three();
    // As a program might that keeps an index of links.
    mkdirSync(join(place.shelf.path, 'tape/Saltmarsh'), { recursive: true });
    const link = join(place.shelf.path, 'tape/Saltmarsh/A001.mov');
    symlinkSync(join(place.volume.path, 'Saltmarsh/A001.mov'), link);
    const say = (readAt: string) =>
      `console.log(JSON.stringify({ file: 'Saltmarsh/A001.mov', state: 'copied', readAt: ${JSON.stringify(readAt)} }))`;
    const argv = (readAt: string) => [process.execPath, '-e', say(readAt), '{list}'];
    const run1 = await run('', { argv: argv(link) });
    expect(run1).toMatchObject({ reported: { files: 1 }, verified: { files: 0 }, failures: 1 });
    expect(run1.troubles[0]?.message).toContain('it could not be read there');
    // In the volume itself, and anywhere else, nothing is looked for.
    await place.put('Saltmarsh/A004.mov', 'take A004');
    const inside = await run('', {
      ...{ argv: argv(join(place.volume.path, 'Saltmarsh/A001.mov')).map((text) => text.replace('A001', 'A002')) },
      readBack: place.volume.path,
    });
    expect(inside.troubles[0]?.message).toContain('on a drive of the working volume itself');
    expect(await place.exposedBytes()).toBe(36);
  });

  test('what failed, what it said nothing of, and what it did not do at all are each told', async () => {
    await three();
    expect(await run('partial')).toMatchObject({
      ...{ stage: 'done', reported: { files: 1 }, failedFiles: 1, failures: 1 },
      troubles: [
        { path: 'Saltmarsh/A002.mov', message: 'Saltmarsh/A002.mov was not copied to tape: tape 4 has a bad spot' },
      ],
    });
    expect(await listed()).toEqual(['Saltmarsh/A002.mov', 'Saltmarsh/A003.mov']);
    expect(await run('fails')).toMatchObject({
      stage: 'failed',
      reported: { files: 1 },
      why: { reason: 'command-failed' },
    });
    expect(await listed()).toEqual(['Saltmarsh/A003.mov']);
    expect((await run('silent', { isLive: false })).why?.reason).toBe('volume-absent');
    expect((await run('silent')).why?.reason).toBe('command-silent');
    expect((await run('dies')).why?.reason).toBe('command-killed');
    expect((await run('floods')).why?.reason).toBe('command-floods');
    expect((await run('', { argv: ['/nowhere/to-tape', '{list}'] })).why?.reason).toBe('command-missing');
    expect(await listed()).toEqual(['Saltmarsh/A003.mov']);
  });

  test('of what is no report nothing is believed, and what was said twice counts once', async () => {
    await three();
    expect(await run('junk')).toMatchObject({
      ...{ stage: 'done', reported: { files: 3, bytes: 27 }, noReports: 7, unknownFiles: 2, failures: 0 },
    });
    expect(await sums()).toMatchObject([{ files: 3 }]);
  });

  test('one that hangs is ended with its window; what it had said stays', async () => {
    await three();
    expect((await run('hangs', { time: AbortSignal.timeout(1_500) })).why?.reason).toBe('command-hangs');
    expect(await run('hangs', { time: AbortSignal.timeout(1_500), extra: ['after-one'] })).toMatchObject({
      ...{ stage: 'stopped', why: null, reported: { files: 1 } },
    });
    expect(await listed()).toHaveLength(2);
  });

  test('what was said and not read back yet, for its drive was away, is read by the next run', async () => {
    await three();
    await place.run();
    const target = join(place.shelf.path, 'elsewhere');
    const says = `for (const n of ['A001', 'A002', 'A003']) console.log(JSON.stringify({ file: 'Saltmarsh/' + n + '.mov', state: 'copied', readAt: ${JSON.stringify(target)} + '/' + n }))`;
    const argv = [process.execPath, '-e', says, '{list}'];
    const away = await run('', { argv, readBack: target });
    expect(away).toMatchObject({ reported: { files: 3 }, verified: { files: 0 }, failures: 1 });
    expect(away.troubles[0]?.message).toMatch(/^what tape copied cannot be read back: .*elsewhere does not exist/);
    mkdirSync(target);
    for (const name of ['A001', 'A002', 'A003']) writeFileSync(join(target, name), `take ${name}`);
    rmSync(join(target, 'A003'));
    const next = await run('silent', { readBack: target });
    expect(next).toMatchObject({ stage: 'done', wanted: { files: 0 }, verified: { files: 2 }, failures: 1 });
  });
});
