import { describe, expect, test } from 'vitest';
import { NO_FACTS } from '../../../src/core/intake/clip.ts';
import { type MadeFile, replaceable, type SourceClip } from '../../../src/core/intake/take-source.ts';
import type { ClipFacts, Kind } from '../../../src/core/model.ts';

const FACTS: ClipFacts = {
  ...NO_FACTS,
  frameRate: { num: 25, den: 1 },
  durationSeconds: 60,
  startTimecode: '10:00:00:00',
};

function source(path: string, facts: Partial<ClipFacts> = {}, project: string | null = 'Lock Keepers'): SourceClip {
  const name = path.slice(path.lastIndexOf('/') + 1);
  return {
    unit: `${path.slice(0, path.lastIndexOf('.')).toLowerCase()}.*`,
    kind: 'original',
    project,
    name,
    facts: { ...FACTS, ...facts },
  };
}

function made(name: string, facts: Partial<ClipFacts> | null = {}, kind: Kind = 'proxy'): MadeFile {
  return {
    ...{ unit: `Proxies/${name}`, kind, project: 'Lock Keepers', name },
    facts: facts === null ? null : { ...FACTS, ...facts },
  };
}

describe('what can be made again', () => {
  test("a camera's small picture while its take is there", () => {
    const clip = source('Day 1/DJI_0001.MP4');
    const small = { ...made('DJI_0001.LRF', null), unit: clip.unit };
    expect(replaceable(small, [clip])).toEqual({ replaceable: true, source: clip.unit, reason: 'same-take' });
    expect(replaceable(small, [])).toEqual({ replaceable: false, source: null, reason: 'no-source' });
    expect(replaceable({ ...small, unit: `${clip.unit}#DJI_0001.LRF` }, [clip]).reason).toBe('same-take');
  });

  test('by name and length, whatever the folder, the case and the ending', () => {
    const clip = source('Day 1/A001C003.mov');
    for (const name of ['A001C003.mov', 'a001c003.mp4', 'A001C003_Proxy.mov']) {
      expect(replaceable(made(name, { durationSeconds: 60.02 }), [clip, source('Day 1/A001C004.mov')])).toEqual({
        replaceable: true,
        source: clip.unit,
        reason: 'same-name-and-length',
      });
    }
    expect(replaceable(made('A001C003.mov', {}, 'render'), [clip]).replaceable).toBe(true);
  });

  test('by reel, timecode and length, whatever the name', () => {
    const clip = source('Day 1/A001C003.mov', { reel: 'A001' });
    expect(replaceable(made('scene 4.mov', { reel: 'A001' }), [clip])).toEqual({
      replaceable: true,
      source: clip.unit,
      reason: 'same-reel-timecode-and-length',
    });
  });

  test.each([
    ['footage', made('A001.mov', {}, 'original'), [source('A001.mov')], 'not-made'],
    ['a cache', made('A001.mov', {}, 'cache'), [source('A001.mov')], 'not-made'],
    ['nothing of its name', made('B001.mov'), [source('A001.mov')], 'no-source'],
    ['another length', made('A001.mov', { durationSeconds: 60.05 }), [source('A001.mov')], 'no-source'],
    ['another timecode', made('A001.mov', { startTimecode: '10:00:00:01' }), [source('A001.mov')], 'no-source'],
    ['another project', made('A001.mov'), [source('A001.mov', {}, 'Saltmarsh')], 'no-source'],
    ['no project', { ...made('A001.mov'), project: null }, [source('A001.mov', {}, null)], 'no-source'],
    ['another proxy', made('A001.mov'), [{ ...source('A001.mov'), kind: 'proxy' as const }], 'no-source'],
    ['a length that nobody knows', made('A001.mov', { durationSeconds: null }), [source('A001.mov')], 'length-unknown'],
    ['a source that was not read', made('A001.mov'), [source('A001.mov', { durationSeconds: null })], 'length-unknown'],
    ['two of its name', made('A001.mov'), [source('Day 1/A001.mov'), source('Day 2/A001.mov')], 'several-sources'],
    [
      'one of its length, one of no known length',
      made('A001.mov'),
      [source('Day 1/A001.mov'), source('Day 2/A001.mov', { durationSeconds: null })],
      'several-sources',
    ],
  ])('not: %s', (_name, file, sources, reason) => {
    expect(replaceable(file, sources)).toEqual({ replaceable: false, source: null, reason });
  });

  test('beside two that it may be of, it is of neither', () => {
    const [one, other] = [
      source('Day 1/DJI_0001.MOV'),
      { ...source('Day 1/DJI_0001.MP4'), unit: 'Day 1/dji_0001.*#DJI_0001.MP4' },
    ];
    const small = { ...made('DJI_0001.LRF', null), unit: 'Day 1/dji_0001.*#DJI_0001.LRF' };
    const there = [{ ...one, unit: 'Day 1/dji_0001.*' }, other];
    expect(replaceable(small, there)).toEqual({ replaceable: false, source: null, reason: 'length-unknown' });
    expect(replaceable({ ...small, facts: FACTS }, there).reason).toBe('several-sources');
  });

  test('of two of one name the timecode tells which', () => {
    const [one, other] = [source('Day 1/C0001.mxf'), source('Day 2/C0001.mxf', { startTimecode: '12:00:00:00' })];
    expect(replaceable(made('C0001.mp4'), [other, one])).toMatchObject({ replaceable: true, source: one.unit });
  });
});
