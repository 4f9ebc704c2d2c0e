import { describe, expect, test } from 'vitest';
import type { Log } from '../../src/core/ports.ts';
import type { IsoTime } from '../../src/core/present/iso-time.ts';
import { snapshot } from '../../src/core/present/snapshot.ts';
import type { Evidence } from '../../src/core/root-port.ts';
import { createInspector } from '../../src/daemon/intake/inspector.ts';
import { preparePlacing } from '../../src/daemon/intake/placing.ts';
import { createReadyList } from '../../src/daemon/intake/ready-list.ts';
import { createUnreadable } from '../../src/daemon/intake/unreadable.ts';
import { createLifecycle } from '../../src/daemon/lifecycle.ts';
import { createSnapshotKeeper } from '../../src/daemon/snapshot-keeper.ts';
import { createStoreTrouble } from '../../src/daemon/store-trouble.ts';
import { settingsForFolders } from '../../src/settings/folders.ts';
import { sampleArrival, sampleAssessment } from '../core/samples.ts';
import { fakeCatalogue } from '../fakes/catalogue.ts';
import { fakeClock } from '../fakes/clock.ts';

function listeningLog(): { log: Log; lines: string[] } {
  const lines: string[] = [];
  const keep = (_fields: object, message: string) => void lines.push(message);
  return { log: { debug() {}, info: keep, warn: keep, error: keep }, lines };
}

const evidence = (path: string): Evidence => ({
  path,
  stat: null,
  error: null,
  writers: 'none',
  wholeness: 'whole',
  detail: null,
});

describe('the inspector', () => {
  test('gathers what is asked in one turn into one call, and gives each asker its own', async () => {
    const calls: string[][] = [];
    const inspector = createInspector(async (paths) => {
      calls.push(paths);
      return paths.map(evidence);
    }, listeningLog().log);
    const answers = await Promise.all([inspector.ask(['a', 'b']), inspector.ask(['c'])]);
    expect(calls).toEqual([['a', 'b', 'c']]);
    expect(answers.map((answer) => answer.map(({ path }) => path))).toEqual([['a', 'b'], ['c']]);
  });

  test('a long question is asked in pieces, two calls are never out at once', async () => {
    let out = 0;
    let most = 0;
    const sizes: number[] = [];
    const inspector = createInspector(async (paths) => {
      most = Math.max(most, ++out);
      sizes.push(paths.length);
      await new Promise((resolve) => setImmediate(resolve));
      out -= 1;
      return paths.map(evidence);
    }, listeningLog().log);
    const many = Array.from({ length: 1200 }, (_, index) => `frame ${index}`);
    const [long, short] = await Promise.all([inspector.ask(many), inspector.ask(['z'])]);
    expect(long.length).toBe(1200);
    expect(short.length).toBe(1);
    expect(most).toBe(1);
    expect(Math.max(...sizes)).toBeLessThanOrEqual(500);
  });

  test('a failure is an empty answer, and the next question is asked', async () => {
    let fail = true;
    const inspector = createInspector(async (paths) => {
      if (fail) throw new Error('the root hangs');
      return paths.map(evidence);
    }, listeningLog().log);
    expect(await inspector.ask(['a'])).toEqual([]);
    fail = false;
    expect((await inspector.ask(['a'])).length).toBe(1);
  });
});

describe('the lifecycle', () => {
  test('undoes in the opposite order, once, and goes on after a part that fails or hangs', async () => {
    const clock = fakeClock(0);
    const { log, lines } = listeningLog();
    const lifecycle = createLifecycle(clock, log);
    const undone: string[] = [];
    lifecycle.defer('first', () => void undone.push('first'));
    lifecycle.defer('failing', () => {
      throw new Error('broken');
    });
    lifecycle.defer('hanging', () => new Promise(() => {}), 2000);
    lifecycle.defer('last', () => void undone.push('last'));
    const ended = Promise.all([lifecycle.unwind(), lifecycle.unwind()]);
    await clock.advance(2500);
    await ended;
    expect(undone).toEqual(['last', 'first']);
    expect(lines).toEqual([
      'Stopping: hanging did not end well: no end within 2 s',
      'Stopping: failing did not end well: broken',
    ]);
  });
});

describe('the project rule', () => {
  const volume = settingsForFolders(['/media/stripe']).volumes[0] as ReturnType<
    typeof settingsForFolders
  >['volumes'][number];

  test('a guess is made once: folders that come later do not turn it over', async () => {
    const catalogue = fakeCatalogue();
    const first = await preparePlacing(volume, ['Footage', 'Audio', 'Exports'], catalogue);
    await first.keep();
    expect(first.told).toMatchObject({ rule: '.', guessed: true });
    const later = await preparePlacing(
      volume,
      ['Footage', 'Audio', 'Exports', 'Saltmarsh', 'Lock Keepers', 'Other', 'More'],
      catalogue,
    );
    expect(later.told.rule).toBe('.');
    expect(later.startOver).toBe(false);
  });

  test('on an empty volume nothing is decided; what was placed meanwhile is placed again when it is', async () => {
    const catalogue = fakeCatalogue();
    const empty = await preparePlacing(volume, [], catalogue);
    expect(empty.told.rule).toBe('*');
    await empty.keep();
    const later = await preparePlacing(volume, ['Footage', 'Audio', 'Exports'], catalogue);
    expect(later.told.rule).toBe('.');
    expect(later.startOver).toBe(true);
  });

  test('a change of the settings starts over, a start with the same does not', async () => {
    const catalogue = fakeCatalogue();
    await (await preparePlacing(volume, ['Saltmarsh'], catalogue)).keep();
    expect((await preparePlacing(volume, ['Saltmarsh'], catalogue)).startOver).toBe(false);
    expect((await preparePlacing({ ...volume, projects: '*/*' }, ['Saltmarsh'], catalogue)).startOver).toBe(true);
    expect(
      (await preparePlacing({ ...volume, projects: '*/*', ignore: ['*.tmp'] }, ['Saltmarsh'], catalogue)).startOver,
    ).toBe(true);
  });

  test('only ingest folders and what is above them is looked at, when they are named', async () => {
    const { placing } = await preparePlacing(
      { ...volume, ingest: ['Saltmarsh/Footage'] },
      ['Saltmarsh'],
      fakeCatalogue(),
    );
    expect(placing.place('Saltmarsh').area).not.toBe('system');
    expect(placing.place('Saltmarsh/Footage/A001.mov').area).toBe('project');
    expect(placing.place('Saltmarsh/Other/A001.mov').area).toBe('system');
    expect(placing.place('Saltmarsh/Footage 2/A001.mov').area).toBe('system');
  });
});

describe('small parts', () => {
  test('what cannot be read is told once, shown until it can be read, and hostile names are escaped', () => {
    const { log, lines } = listeningLog();
    const unreadable = createUnreadable('stripe', fakeClock(5), log);
    const found = [{ path: 'Saltmarsh/\u001b[2Jclosed', error: 'EACCES: permission denied' }];
    unreadable.note('Saltmarsh', [], found);
    unreadable.note('Saltmarsh', [], found);
    expect(lines.length).toBe(1);
    expect(lines[0]).not.toContain('\u001b');
    expect(unreadable.arrivals()).toMatchObject([{ stage: 'refused', reason: 'unreadable', since: 5 }]);
    unreadable.note('Other', [], []);
    expect(unreadable.arrivals().length).toBe(1);
    unreadable.note('Saltmarsh', [], []);
    expect(unreadable.arrivals()).toEqual([]);
    unreadable.note('X', [], [{ path: 'X', error: 'EACCES' }]);
    unreadable.note('', ['X'], []);
    expect(unreadable.arrivals().length).toBe(1);
    unreadable.note('', [], []);
    expect(unreadable.arrivals()).toEqual([]);
    unreadable.note('X', [], [{ path: 'X', error: 'EACCES' }]);
    unreadable.gone(['X']);
    expect(unreadable.arrivals()).toEqual([]);
  });

  test('a refusing store is told once, and recovery once', () => {
    const { log, lines } = listeningLog();
    let recovered = 0;
    const trouble = createStoreTrouble(fakeClock(7), log);
    trouble.onRecovered(() => {
      recovered += 1;
    });
    trouble.worked();
    trouble.refused(new Error('The state disk is full.'));
    trouble.refused(new Error('The state disk is full.'));
    expect(lines).toEqual(['The state disk is full. It is tried again; nothing on your volumes is touched.']);
    expect(trouble.current()).toEqual({ message: 'The state disk is full.', since: 7 });
    trouble.worked();
    trouble.worked();
    expect(trouble.current()).toBeNull();
    expect(recovered).toBe(1);
  });

  test('an arrival stays on the list for a minute after it is ready', async () => {
    const clock = fakeClock(0);
    const ready = createReadyList(clock);
    ready.add(sampleArrival({ stage: 'ready' }));
    await clock.advance(59_000);
    expect(ready.lines().length).toBe(1);
    await clock.advance(2_000);
    expect(ready.lines()).toEqual([]);
    for (let count = 0; count < 100; count++) ready.add(sampleArrival({ stage: 'ready', unit: String(count) }));
    expect(ready.lines().length).toBe(20);
    expect(ready.lines().at(-1)?.unit).toBe('99');
  });

  test('the snapshot on disk is written now and then, and a full disk is told once', async () => {
    const clock = fakeClock(0);
    const { log, lines } = listeningLog();
    const written: string[] = [];
    let full = false;
    const keeper = createSnapshotKeeper(clock, log, (json) => {
      if (full) throw new Error('ENOSPC: no space left on device');
      written.push(json);
    });
    const one = snapshot(sampleAssessment(), [], { version: 'x', page: null, zone: 'UTC' });
    const other = { ...one, projects: [] };
    keeper.flush();
    expect(written).toEqual([]);
    keeper.note(() => one);
    keeper.note(() => one);
    expect(written.length).toBe(1);
    await clock.advance(11_000);
    full = true;
    keeper.note(() => other);
    keeper.flush();
    expect(lines.length).toBe(1);
    full = false;
    keeper.flush();
    expect(written.length).toBe(2);
    expect(JSON.parse(written[1] ?? '').volumes.length).toBe(1);
  });

  test('a snapshot in which only the time is new is not written again for ten minutes', async () => {
    const clock = fakeClock(0);
    const written: string[] = [];
    let asked = 0;
    const keeper = createSnapshotKeeper(clock, listeningLog().log, (json) => void written.push(json));
    const newest = () => {
      asked += 1;
      return {
        ...snapshot(sampleAssessment(), [], { version: 'x', page: null, zone: 'UTC' }),
        at: `${asked}` as IsoTime,
      };
    };
    for (let second = 0; second < 599; second += 1) {
      keeper.note(newest);
      await clock.advance(1000);
    }
    expect(written.length).toBe(1);
    expect(asked).toBe(60);
    await clock.advance(2000);
    keeper.note(newest);
    expect(written.map((json) => JSON.parse(json).at)).toEqual(['1', '61']);
  });
});
