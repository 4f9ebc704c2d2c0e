import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import type { MulticamGroup } from '../../../src/core/assess/assessment.ts';
import { ProjectSearch } from '../../../src/core/assess/project-search.ts';
import type { Clip } from '../../../src/core/model.ts';
import { sampleClip } from '../samples.ts';

const PROJECT = 'Tidewater Sessions';
const PLACE = { volume: 'stripe', project: PROJECT };
const FIVE = ['A', 'B', 'C', 'D', 'E'];

const original = (camera: string, hour = 10, folder = '') => {
  const path = `${PROJECT}/${folder}${camera}001.mov`;
  return sampleClip(
    { unit: path, name: `${camera}001.mov`, paths: [path] },
    { startTimecode: `${hour}:00:00:00`, recordedAt: `2027-03-04T${hour}:00:00Z`, reel: `${camera}001` },
  );
};
const proxy = (camera: string, folder: string, essenceBytes = 5e7, durationSeconds = 10) => {
  const path = `${PROJECT}/${folder}/${camera}001_Proxy.mov`;
  return sampleClip(
    { unit: path, kind: 'proxy', name: `${camera}001_Proxy.mov`, paths: [path], essenceBytes },
    { durationSeconds },
  );
};

/** What whoever listened from the beginning knows. */
function listener(search: ProjectSearch) {
  const told = new Map<number, MulticamGroup[]>();
  return () => {
    while (!search.settle(2));
    for (let more = true; more; ) {
      const answer = search.nextChanged(3);
      for (const session of answer.gone) told.delete(session);
      for (const { session, groups } of answer.sessions) told.set(session, groups);
      more = answer.more;
    }
    return [...told.values()]
      .flat()
      .map((group) => JSON.stringify(group))
      .sort();
  };
}

function searchOf(clips: readonly Clip[]): ProjectSearch {
  const search = new ProjectSearch(PLACE);
  for (const clip of clips) search.put(clip);
  return search;
}

describe('the proxy of an angle', () => {
  const proxiesOf = (clips: readonly Clip[]) => {
    const search = searchOf(clips);
    search.settle(100);
    const [group] = search.nextChanged(100).sessions.flatMap(({ groups }) => groups);
    return group?.members.map((member) => member.proxy?.bps ?? null);
  };

  test('is the one that was made of it, of several the heaviest', () => {
    const made = [proxy('A', 'Proxy'), proxy('A', 'Proxy2', 8e7), proxy('B', 'Proxy'), proxy('C', 'Proxy', 5e7, 99)];
    expect(proxiesOf([...FIVE.map((camera) => original(camera)), ...made])).toEqual([8e6, 5e6, null, null, null]);
  });

  test('is none where it may be of another clip of that name', () => {
    const clips = [...FIVE.map((camera) => original(camera)), original('A', 20, 'Second day/')];
    expect(proxiesOf([...clips, proxy('A', 'Proxy'), proxy('B', 'Proxy')])).toEqual([null, 5e6, null, null, null]);
  });

  test('is told when it comes, and when it goes, of the session it is of and of no other', () => {
    const search = searchOf([
      ...FIVE.map((camera) => original(camera)),
      original('A', 20, '2/'),
      original('B', 20, '2/'),
    ]);
    while (!search.settle(100));
    expect(search.nextChanged(100).sessions.map(({ groups }) => groups.length)).toEqual([1, 1]);
    search.put(proxy('C', 'Proxy'));
    expect(search.settle(100)).toBe(true);
    const [session, ...others] = search.nextChanged(100).sessions;
    expect(others).toEqual([]);
    expect(session?.groups[0]?.members.map((member) => member.proxy?.bps ?? null)).toEqual([
      null,
      null,
      5e6,
      null,
      null,
    ]);
    search.remove(`${PROJECT}/Proxy/C001_Proxy.mov`);
    expect(search.settle(100)).toBe(true);
    expect(search.nextChanged(100).sessions[0]?.groups[0]?.members.some((member) => member.proxy !== null)).toBe(false);
    expect(search.nextChanged(100)).toEqual({ sessions: [], gone: [], more: false });
  });
});

test('whoever hears of every change knows what a search over all clips finds, proxies and signs included', () => {
  const pool = [
    ...['A', 'B', 'C'].flatMap((camera) => [8, 12, 16, 20].map((hour) => original(camera, hour, `${hour}/`))),
    ...['A', 'B'].map((camera) => original(camera, 12, 'Copy/')),
    ...['A', 'B', 'C'].flatMap((camera) => [proxy(camera, 'Proxy'), proxy(camera, 'Proxy2', 9e7)]),
    // Beside its clip, of its take by name; and one whose clip is not here.
    proxy('D', 'Proxy'),
    sampleClip({ unit: `${PROJECT}/cut.mov`, kind: 'render', name: 'cut.mov', paths: [`${PROJECT}/cut.mov`] }),
  ];
  const change = fc.record({ at: fc.nat(pool.length - 1), goes: fc.boolean(), seconds: fc.constantFrom(10, 20) });
  fc.assert(
    fc.property(fc.array(change, { minLength: 1, maxLength: 40 }), (changes) => {
      const search = new ProjectSearch(PLACE);
      const hear = listener(search);
      const here = new Map<string, Clip>();
      let heard: string[] = [];
      for (const { at, goes, seconds } of changes) {
        const clip = pool[at];
        if (clip === undefined) continue;
        const now = { ...clip, facts: { ...clip.facts, durationSeconds: seconds } };
        here.delete(clip.unit);
        if (goes) search.remove(clip.unit);
        else {
          search.put(now);
          here.set(clip.unit, now);
        }
        heard = hear();
      }
      const fresh = searchOf([...here.values()]);
      expect(heard).toEqual(listener(fresh)());
      expect(search.signs()).toEqual(fresh.signs());
      expect(search.size).toBe(here.size);
    }),
    { numRuns: 200 },
  );
});
