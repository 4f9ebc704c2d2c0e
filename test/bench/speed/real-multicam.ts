import { mkdirSync } from 'node:fs';
import { bench } from '../../process/headroomd.ts';
import { CAMERAS, DISCIPLINES, groupsOf, SCENES } from '../../process/multicam-clips.ts';
import type { Figure } from '../figure.ts';

/** Real encodes, read by the real program: pairs of clips that it puts together, under three disciplines. */
export async function measureRealMulticam(): Promise<Figure[]> {
  const count = { found: 0, right: 0, truth: 0 };
  const pairs = (angles: number) => (angles * (angles - 1)) / 2;
  for (const discipline of Object.values(DISCIPLINES)) {
    const place = bench();
    mkdirSync(place.volume, { recursive: true });
    try {
      const groups = (await groupsOf(place, discipline)).toSorted((a, b) =>
        (a.startsAt ?? '') < (b.startsAt ?? '') ? -1 : 1,
      );
      count.truth += SCENES.length * pairs(CAMERAS.length);
      count.found += groups.reduce((sum, { angles }) => sum + pairs(angles), 0);
      // As many groups as scenes, one after the other: each is its scene's.
      if (groups.length === SCENES.length) count.right += groups.reduce((sum, { angles }) => sum + pairs(angles), 0);
    } finally {
      await place.clear();
    }
  }
  const figure = (name: string, value: number): Figure => ({
    name: `multicam pairs of ${count.truth} among real encodes: ${name}`,
    ...{ value, unit: '%', peer: null, goal: '>= 99 %', holds: value >= 99 },
  });
  return [
    figure('precision', count.found === 0 ? 0 : (100 * count.right) / count.found),
    figure('recall', (100 * count.right) / count.truth),
  ];
}
