import { describe, expect, test } from 'vitest';
import { multicamGroups } from '../../../src/core/assess/angle-sessions.ts';
import type { MulticamGroup } from '../../../src/core/assess/assessment.ts';
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

function dated(camera: string, day: number): Clip {
  const file = someFile(`${PROJECT}/${day}/${camera}001.mov`);
  const facts = { ...PRORES_UHD25, reel: `${camera}001`, startTimecode: '10:00:00:00' };
  return clipOf([file], { ...facts, recordedAt: `2027-03-0${day}T10:00:00Z` }, { readyAt: AT + day });
}

async function finish(store: Store, clips: readonly Clip[]): Promise<void> {
  for (const clip of clips) {
    await store.catalogue.finishUnit('stripe', clip.unit, [someFile(clip.unit)], [clip]);
  }
}

async function search(port: MulticamPort, known = false) {
  const steps: string[] = [];
  const sessions = new Map<number, MulticamGroup[]>();
  for (let isKnown = known; ; isKnown = true) {
    const answer = await port.step('stripe', PROJECT, isKnown);
    steps.push(answer.step);
    if (answer.anew) sessions.clear();
    for (const session of answer.gone) sessions.delete(session);
    for (const { session, groups } of answer.sessions) sessions.set(session, groups);
    if (answer.step === 'found' || answer.step === 'current') return { steps, groups: [...sessions.values()].flat() };
  }
}

const shapeOf = (steps: readonly string[]) => steps.filter((step, index) => step !== steps[index - 1]);

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
    const step = openMulticamSearch(state.database, { slice: 2, told: 2 });
    const port: MulticamPort = { step: async (...args) => step(...args) };
    const found = await search(port);
    expect(shapeOf(found.steps)).toEqual(['more', 'groups', 'found']);
    expect(found.steps.length).toBeGreaterThan(CONCERT.length / 2);
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

  test('groups of many days are told and kept in parts; a clip of one day has that day told and written', async () => {
    const stateDir = folder();
    const store = await open(stateDir);
    const days = [4, 5, 6, 7, 8, 9].flatMap((day) => ['A', 'B', 'C'].map((camera) => dated(camera, day)));
    await finish(store, days);
    await store.close();
    const state = openState({ stateDir, at: AT });
    cleanup(() => state.close(true));
    const portOf = (): MulticamPort => {
      const step = openMulticamSearch(state.database, { slice: 4, told: 4 });
      return { step: async (...args) => step(...args) };
    };
    const first = portOf();
    const found = await search(first);
    expect(shapeOf(found.steps)).toEqual(['more', 'part', 'groups', 'more', 'found']);
    expect(found.groups.map(({ angles }) => angles)).toEqual([3, 3, 3, 3, 3, 3]);
    const rows = () => state.database.prepare('SELECT session, json FROM multicam_session ORDER BY session').all();
    const before = rows();
    expect(before).toHaveLength(6);
    state.database.exec(`DELETE FROM clip WHERE unit = '${dated('C', 6).unit}'`);
    const told = await first.step('stripe', PROJECT, true);
    expect([told.step, told.sessions.length, told.sessions[0]?.groups[0]?.angles]).toEqual(['groups', 1, 2]);
    expect((await search(first, true)).steps).toEqual(['found']);
    expect(rows().filter((row, index) => row['json'] !== before[index]?.['json'])).toHaveLength(1);
    // Started anew, nothing is read but what is kept.
    const kept = await search(portOf());
    expect(shapeOf(kept.steps)).toEqual(['part', 'current']);
    expect(kept.groups.map(({ angles }) => angles).sort()).toEqual([2, 3, 3, 3, 3, 3]);
  });

  test('ended in the middle of keeping, all is searched once more', async () => {
    const stateDir = folder();
    const store = await open(stateDir);
    await finish(
      store,
      [4, 5, 6].flatMap((day) => ['A', 'B'].map((camera) => dated(camera, day))),
    );
    await store.close();
    const state = openState({ stateDir, at: AT });
    cleanup(() => state.close(true));
    const step = openMulticamSearch(state.database, { slice: 2, told: 2 });
    const kept = () => Number(state.database.prepare('SELECT count(*) AS n FROM multicam_session').get()?.['n']);
    for (let steps = 0; kept() === 0; steps += 1) expect(step('stripe', PROJECT, steps > 0).step).not.toBe('found');
    expect(kept()).toBeLessThan(3);
    const again = openMulticamSearch(state.database, { slice: 2, told: 2 });
    const found = await search({ step: async (...args) => again(...args) });
    expect(shapeOf(found.steps).at(0)).toBe('more');
    expect([found.groups.length, kept()]).toEqual([3, 3]);
  });

  test('files that are put again without a change leave it as it is', async () => {
    const store = await open(folder());
    await finish(store, CONCERT);
    await search(store.multicam);
    await store.catalogue.putFiles(CONCERT.map(({ unit }) => someFile(unit)));
    expect((await search(store.multicam, true)).steps).toEqual(['current']);
  });

  test('only what changed is read again, whatever it was; after a while all is', async () => {
    const stateDir = folder();
    const store = await open(stateDir);
    await finish(store, CONCERT);
    await store.close();
    const state = openState({ stateDir, at: AT });
    cleanup(() => state.close(true));
    const step = openMulticamSearch(state.database, { slice: 4, told: 4, heldMs: 50 });
    const port: MulticamPort = { step: async (...args) => step(...args) };
    expect(shapeOf((await search(port)).steps)).toEqual(['more', 'groups', 'found']);
    const change = (sql: string) => state.database.exec(sql);
    // One goes, one is another project's by now, one is told to be longer: its group ends later.
    change(`DELETE FROM clip WHERE unit = '${take('A', 1).unit}'`);
    change(`UPDATE clip SET project = 'Saltmarsh' WHERE unit = '${take('B', 1).unit}'`);
    const longer = `json_set(json, '$.facts.durationSeconds', 900)`;
    for (const camera of ['A', 'B']) change(`UPDATE clip SET json = ${longer} WHERE unit = '${take(camera, 3).unit}'`);
    const after = await search(port, true);
    expect(shapeOf(after.steps)).toEqual(['more', 'groups', 'found']);
    expect(after.groups.map(({ angles }) => angles)).toEqual([3, 3]);
    expect((await search(port, true)).steps).toEqual(['current']);
    await new Promise((resolve) => setTimeout(resolve, 100));
    expect((await search(port, false)).steps).toEqual(['current']);
    change(`DELETE FROM clip WHERE unit = '${take('C', 2).unit}'`);
    const again = await search(port, true);
    expect(shapeOf(again.steps)).toEqual(['more', 'groups', 'found']);
    expect(again.groups.map(({ angles }) => angles)).toEqual([2, 3]);
    const fresh = openMulticamSearch(state.database);
    change('DELETE FROM multicam');
    expect((await search({ step: async (...args) => fresh(...args) })).groups).toEqual(again.groups);
  });
});
