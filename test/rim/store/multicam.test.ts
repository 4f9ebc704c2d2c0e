import { describe, expect, test } from 'vitest';
import { multicamGroups } from '../../../src/core/assess/angle-sessions.ts';
import type { Clip } from '../../../src/core/model.ts';
import type { MulticamPort } from '../../../src/core/multicam-port.ts';
import { openMulticamSearch } from '../../../src/rim/store/multicam-search.ts';
import { openState } from '../../../src/rim/store/open.ts';
import type { Store } from '../../../src/rim/store/store.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';
import { AT, stateFolders } from './state-folder.ts';

const { cleanup, folder, open } = stateFolders();
const PROJECT = 'Tidewater Sessions';

/** A take of one camera at a song of the concert. */
function take(camera: string, song: number): Clip {
  const file = someFile(`${PROJECT}/${camera}/${camera}00${song}.mov`);
  const startTimecode = `20:${String(10 + song).padStart(2, '0')}:00:00`;
  return clipOf([file], { ...PRORES_UHD25, reel: `${camera}001`, startTimecode }, { readyAt: AT + song });
}

async function finish(store: Store, clips: readonly Clip[]): Promise<void> {
  for (const clip of clips) {
    await store.catalogue.finishUnit('stripe', clip.unit, [someFile(clip.unit)], [clip]);
  }
}

async function search(port: MulticamPort, known = false) {
  const steps: string[] = [];
  for (;;) {
    const { step, groups } = await port.step('stripe', PROJECT, known);
    steps.push(step);
    if (step === 'found' || step === 'current') return { steps, groups };
  }
}

const CONCERT = [1, 2, 3].flatMap((song) => ['A', 'B', 'C'].map((camera) => take(camera, song)));

describe('the search for multicam groups', () => {
  test('finds what a search over the whole clips finds, in slices as well', async () => {
    const stateDir = folder();
    const store = await open(stateDir);
    await finish(store, CONCERT);
    const expected = multicamGroups(await store.catalogue.clips({ volume: 'stripe', project: PROJECT }));
    expect(expected.map(({ angles }) => angles)).toEqual([3, 3, 3]);
    expect((await search(store.multicam)).groups.length).toBe(3);
    await store.close();
    const state = openState({ stateDir, at: AT });
    cleanup(() => state.close(true));
    state.database.exec('DELETE FROM multicam');
    const step = openMulticamSearch(state.database, { slice: 2 });
    const port: MulticamPort = { step: async (...args) => step(...args) };
    const found = await search(port);
    expect(found.steps).toEqual(['more', 'more', 'more', 'more', 'more', 'groups', 'found']);
    const byStart = (groups: typeof expected) => groups.toSorted((a, b) => a.evidence.localeCompare(b.evidence));
    expect(byStart(found.groups)).toEqual(byStart(expected));
  });

  test('what was found holds over a restart, until a clip comes or goes', async () => {
    const stateDir = folder();
    const first = await open(stateDir);
    await finish(first, CONCERT);
    await search(first.multicam);
    await first.close();
    const store = await open(stateDir);
    const kept = await search(store.multicam);
    expect([kept.steps, kept.groups.length]).toEqual([['current'], 3]);
    expect(await search(store.multicam, true)).toEqual({ steps: ['current'], groups: [] });
    await finish(store, [take('A', 4), take('B', 4)]);
    const after = await search(store.multicam);
    expect([after.steps, after.groups.length]).toEqual([['earlier', 'more', 'groups', 'found'], 4]);
    await store.catalogue.forget('stripe', [take('B', 4).unit]);
    const fewer = await search(store.multicam, true);
    expect([fewer.steps, fewer.groups.length]).toEqual([['groups', 'found'], 3]);
  });

  test('files that are put again without a change leave it as it is', async () => {
    const store = await open(folder());
    await finish(store, CONCERT);
    await search(store.multicam);
    await store.catalogue.putFiles(CONCERT.map(({ unit }) => someFile(unit)));
    expect((await search(store.multicam)).steps).toEqual(['current']);
  });

  test('only what changed is read again, whatever it was; after a while all is', async () => {
    const stateDir = folder();
    const store = await open(stateDir);
    await finish(store, CONCERT);
    await store.close();
    const state = openState({ stateDir, at: AT });
    cleanup(() => state.close(true));
    const step = openMulticamSearch(state.database, { slice: 4, heldMs: 50 });
    const port: MulticamPort = { step: async (...args) => step(...args) };
    expect((await search(port)).steps).toEqual(['more', 'more', 'more', 'groups', 'found']);
    const change = (sql: string) => state.database.exec(sql);
    // One goes, one is another project's by now, one is told to be longer: its group ends later.
    change(`DELETE FROM clip WHERE unit = '${take('A', 1).unit}'`);
    change(`UPDATE clip SET project = 'Saltmarsh' WHERE unit = '${take('B', 1).unit}'`);
    const longer = `json_set(json, '$.facts.durationSeconds', 900)`;
    for (const camera of ['A', 'B']) change(`UPDATE clip SET json = ${longer} WHERE unit = '${take(camera, 3).unit}'`);
    const after = await search(port, true);
    expect(after.steps).toEqual(['groups', 'found']);
    expect(after.groups.map(({ angles }) => angles)).toEqual([3, 3]);
    expect((await search(port, true)).steps).toEqual(['current']);
    await new Promise((resolve) => setTimeout(resolve, 100));
    expect((await search(port, false)).steps).toEqual(['current']);
    change(`DELETE FROM clip WHERE unit = '${take('C', 2).unit}'`);
    const again = await search(port, true);
    expect(again.steps).toEqual(['more', 'more', 'groups', 'found']);
    expect(again.groups.map(({ angles }) => angles)).toEqual([2, 3]);
    const fresh = openMulticamSearch(state.database);
    change('DELETE FROM multicam');
    expect((await search({ step: async (...args) => fresh(...args) })).groups).toEqual(again.groups);
  });
});
