import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Bench, bench } from './headroomd.ts';
import { DISCIPLINES, groupsOf, SCENES } from './multicam-clips.ts';

let place: Bench;
beforeEach(() => {
  place = bench();
});
afterEach(() => place.clear());

describe('three cameras, three scenes', () => {
  test('timecode that runs only while recording, and clocks minutes apart', async () => {
    const found = await groupsOf(place, DISCIPLINES.recordRun);
    expect(found.map(({ angles, cameras }) => [angles, cameras.join('')])).toEqual(SCENES.map(() => [3, 'ABC']));
    expect(found[0]?.evidence).toContain('clock of camera B set 4 min 12 s back');
    expect(found[0]?.evidence).toContain('clock of camera C set 7 min 00 s forward');
    expect(found[0]?.confidence).toBeLessThan(0.8);
  });

  test('no timecode at all', async () => {
    const found = await groupsOf(place, DISCIPLINES.none);
    expect(found.map(({ angles }) => angles)).toEqual([3, 3, 3]);
    expect(found[0]?.evidence).toMatch(/^same recording time on cameras A, B, C/);
  });

  test('one timecode for all, and recording times that are wrong by half an hour', async () => {
    const found = await groupsOf(place, DISCIPLINES.jammed);
    expect(found.map(({ angles }) => angles)).toEqual([3, 3, 3]);
    expect(found[0]?.evidence).toMatch(/^same timecode on cameras A, B, C at 25 fps$/);
  });
});
