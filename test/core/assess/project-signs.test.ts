import { describe, expect, test } from 'vitest';
import type { SignClip } from '../../../src/core/assess/clip-kin.ts';
import { assessMade, withLackingMade } from '../../../src/core/assess/made.ts';
import { ProjectSearch } from '../../../src/core/assess/project-search.ts';
import { NO_SIGNS, type ProjectPlace, type ProjectSigns } from '../../../src/core/assess/project-signs.ts';
import type { Clip, ClipFacts } from '../../../src/core/model.ts';
import { sampleClip, sampleSum } from '../samples.ts';

const PLACE = { volume: 'stripe', project: 'Tidewater Sessions' };

function clip(path: string, kind: Clip['kind'] = 'original', facts: Partial<ClipFacts> = {}, bytes = 100): SignClip {
  const name = path.split('/').at(-1) ?? path;
  return sampleClip(
    { paths: [`${PLACE.project}/${path}`], unit: `${PLACE.project}/${path}`, name, kind, bytes },
    facts,
  );
}

function signsOf(clips: readonly SignClip[], place: ProjectPlace): ProjectSigns {
  const search = new ProjectSearch(place);
  for (const clip of clips) search.put(clip);
  search.settle(Number.POSITIVE_INFINITY);
  return search.signs();
}

describe('proxies and renders', () => {
  const original = clip('Footage/A001C002.mov');

  test('of one name and length have their source here', () => {
    const proxy = clip('Proxies/A001C002.mov', 'proxy');
    expect(signsOf([original, proxy], PLACE).unsourced).toEqual(NO_SIGNS.unsourced);
  });

  test('count as exposed while it is not here, is of another length, or could be one of two', () => {
    const proxy = clip('Proxies/A001C002.mov', 'proxy', {}, 30);
    const lost = { clips: 1, bytes: 30, durationSeconds: 10 };
    expect(signsOf([proxy], PLACE).unsourced).toEqual(lost);
    expect(signsOf([clip('Footage/A001C003.mov'), proxy], PLACE).unsourced).toEqual(lost);
    expect(signsOf([clip('Footage/A001C002.mov', 'original', { durationSeconds: 9 }), proxy], PLACE).unsourced).toEqual(
      lost,
    );
    expect(signsOf([original, clip('Card 2/A001C002.mov'), proxy], PLACE).unsourced).toEqual(lost);
  });

  test('are found by reel and timecode as well', () => {
    const recorded = { reel: 'A001', startTimecode: '10:00:00:00' };
    const named = [clip('Footage/A001C002.mov', 'original', recorded), clip('Proxies/small.mov', 'proxy', recorded)];
    expect(signsOf(named, PLACE).unsourced).toEqual(NO_SIGNS.unsourced);
  });

  test('a thousand of each are looked through in the time of a few', () => {
    const clips = Array.from({ length: 1000 }, (_, at) => [
      clip(`Footage/A001C${at}.mov`),
      clip(`Proxies/A001C${at}.mov`, 'proxy'),
    ]).flat();
    expect(signsOf(clips, PLACE).unsourced.clips).toBe(0);
  });
});

test('takes that lie here twice are told, and are no copies', () => {
  const recorded = { startTimecode: '10:00:00:00' };
  const [one, two] = ['Card 1', 'Card 2'].map((card) => clip(`${card}/A001C002.mov`, 'original', recorded));
  const third = clip('Card 2/A001C003.mov', 'original', recorded);
  expect(signsOf([one, two, third] as SignClip[], PLACE).twice).toEqual({
    ...{ takes: 1, bytes: 100, sameSize: 1 },
    some: [
      {
        name: 'A001C002.mov',
        sameSize: true,
        places: ['Card 1', 'Card 2'].map((card) => ({
          path: `${PLACE.project}/${card}/A001C002.mov`,
          bytes: expect.any(Number),
        })),
      },
    ],
  });
});

describe('what of it must have copies', () => {
  const made = { clips: 2, bytes: 50, durationSeconds: 20 };
  const exposed = { bytes: 7, clips: 1, durationSeconds: 3, since: 5 };

  test('is what has no source here', () => {
    const sum = sampleSum({ made, exposed });
    const found = assessMade(sum, { ...NO_SIGNS, unsourced: { clips: 1, bytes: 20, durationSeconds: 10 } }, null);
    expect(found).toMatchObject({ bytes: 50, replaceableBytes: 30 });
    expect(withLackingMade(sum, found).exposed).toEqual({ bytes: 27, clips: 2, durationSeconds: 13, since: 5 });
  });

  test('is all of it where nobody has looked yet, and nothing of what is in the trash', () => {
    const sum = sampleSum({ made, exposed });
    expect(withLackingMade(sum, assessMade(sum, null, null)).exposed?.bytes).toBe(57);
    const trash = sampleSum({ area: 'trash', made, exposed });
    expect(withLackingMade(trash, assessMade(trash, null, null)).exposed).toEqual(exposed);
  });

  test('is only what lacks its copies: of all of it until somebody has looked, then of what has no source here', () => {
    const sum = sampleSum({ made, exposed });
    const copies = {
      madeLacking: {
        all: { clips: 1, bytes: 30, durationSeconds: 12 },
        unsourced: { clips: 0, bytes: 0, durationSeconds: 0 },
      },
    };
    expect(withLackingMade(sum, assessMade(sum, null, copies)).exposed).toMatchObject({ bytes: 37, clips: 2 });
    const signs = { ...NO_SIGNS, unsourced: { clips: 1, bytes: 20, durationSeconds: 10 } };
    const found = assessMade(sum, signs, copies);
    expect([found.replaceableBytes, found.unsourced.bytes]).toEqual([30, 20]);
    expect(withLackingMade(sum, found).exposed).toEqual(exposed);
  });

  test('is not known where the copies are not known', () => {
    const sum = sampleSum({ made, exposed: null });
    expect(withLackingMade(sum, assessMade(sum, null, null)).exposed).toBeNull();
  });
});
