import { describe, expect, test } from 'vitest';
import { NO_TIES } from '../../../src/core/intake/container/structure.ts';
import type { Join } from '../../../src/core/intake/join-candidate.ts';
import { mayJoin, scopesOf } from '../../../src/core/intake/join-scope.ts';
import { joinedClip } from '../../../src/core/intake/joined-clip.ts';
import { sampleClip } from '../samples.ts';

const part = (
  unit: string,
  more: Parameters<typeof sampleClip>[0] = {},
  facts: Parameters<typeof sampleClip>[1] = {},
) => sampleClip({ unit, name: `${unit}.mp4`, paths: [`Day 1/${unit}.mp4`], ...more }, { frames: 250, ...facts });
const join = (units: string[], more: Partial<Join> = {}): Join => ({
  units,
  how: 'spans',
  reason: 'gapless-split',
  missing: [],
  ...more,
});

describe('the one clip of a take', () => {
  test('has the bytes, files and time of its parts, in playing order, and the name of the first', () => {
    const clip = joinedClip(join(['a', 'b']), [part('b', { fileCount: 2, readyAt: 9 }), part('a', { readyAt: 5 })]);
    expect(clip).toMatchObject({
      ...{
        unit: 'a',
        name: 'a.mp4',
        paths: ['Day 1/a.mp4', 'Day 1/b.mp4'],
        fileCount: 3,
        bytes: 2e9,
        essenceBytes: 2e9,
      },
      ...{ essenceCount: 2, parts: 'spans', groupedBy: 'gapless-split', readyAt: 9 },
    });
    expect(clip.facts).toMatchObject({ durationSeconds: 20, frames: 500, overallBitrate: 8e8 });
  });

  test('names what is missing of it, in the words of the card', () => {
    const clip = joinedClip(join(['a', 'b'], { missing: ['0003EF'] }), [
      part('a', { missingParts: [{ first: 2, last: 2 }] }),
      part('b', { missingNames: ['x'], missingFrames: [{ first: 7, last: 9 }] }),
    ]);
    expect(clip).toMatchObject({
      missingNames: ['x', '0003EF'],
      missingParts: [{ first: 2, last: 2 }],
      missingFrames: [{ first: 7, last: 9 }],
    });
  });

  test('is known as surely as the least sure of its parts', () => {
    const of = (...evidence: ('container-whole' | 'no-writer' | 'quiet-only')[]) =>
      joinedClip(join(['a', 'b']), [
        part('a', { evidence: evidence[0] ?? 'no-writer' }),
        part('b', { evidence: evidence[1] ?? 'no-writer' }),
      ]).evidence;
    expect([
      of('container-whole', 'no-writer'),
      of('quiet-only', 'no-writer'),
      of('container-whole', 'container-whole'),
    ]).toEqual(['no-writer', 'quiet-only', 'container-whole']);
  });

  test('a part that no reader knows: its bytes count, sums of time are not known', () => {
    const clip = joinedClip(join(['a', 'b']), [part('a'), part('b', { state: 'not-decoded' })]);
    expect([clip.bytes, clip.state, clip.facts.durationSeconds]).toEqual([2e9, 'ready', null]);
  });

  test('a long one lists the files of its ends', () => {
    const units = Array.from({ length: 12 }, (_, index) => `p${String(index).padStart(2, '0')}`);
    const clip = joinedClip(
      join(units),
      units.map((unit) => part(unit)),
    );
    expect([clip.paths, clip.fileCount]).toEqual([['Day 1/p00.mp4', 'Day 1/p11.mp4'], 12]);
  });

  test('is refused where a part is not at hand', () => {
    expect(() => joinedClip(join(['a', 'b']), [part('a')])).toThrow('the part b of a take is missing');
    expect(() => joinedClip(join([]), [])).toThrow(RangeError);
  });
});

describe('where others of a take are looked for', () => {
  test.each<[string, Parameters<typeof part>[1], Parameters<typeof part>[2], boolean]>([
    ['a plain clip', {}, {}, false],
    ['numbered frames', { parts: 'frames' }, {}, true],
    ['a stream of an AVCHD card', { paths: ['Card/BDMV/STREAM/00000.MTS'] }, {}, true],
    ['one of a P2 card, in any case', { paths: ['contents/video/0001ab.mxf'] }, {}, true],
    ['OP-Atom', { ties: { ...NO_TIES, materialPackage: 'ab' } }, { container: 'MXF OP-Atom' }, true],
    [
      'OP1a, which has all tracks in one file',
      { ties: { ...NO_TIES, materialPackage: 'ab' } },
      { container: 'MXF OP1a' },
      false,
    ],
    ['sound', { kind: 'sound' }, {}, true],
    ['a movie of sound alone', {}, { width: null, audioTracks: 2 }, true],
    // FAT32 ends at 4 GiB; cameras begin a new file before. Common practice, no source.
    [
      'near the size at which files are split, with timecode',
      { essenceBytes: 3.99e9 },
      { startTimecode: '10:00:00:00' },
      true,
    ],
    ['the same without timecode', { essenceBytes: 3.99e9 }, {}, false],
  ])('%s', (_name, more, facts, may) => expect(mayJoin(part('a', more, facts))).toBe(may));

  test('its folder; the card on a card; of frames the folder above too', () => {
    const of = (path: string, parts: 'frames' | null = null) => scopesOf({ paths: [path], parts });
    expect(of('Day 1/a.mp4')).toEqual(['Day 1']);
    expect(of('a.mp4')).toEqual(['']);
    expect(of('Card/BDMV/STREAM/00000.MTS')).toEqual(['Card/BDMV']);
    expect(of('CONTENTS/AUDIO/0001AB00.MXF')).toEqual(['CONTENTS']);
    expect(of('Day 1/shot/f.0001.dpx', 'frames')).toEqual(['Day 1/shot', 'Day 1']);
    expect(of('f.0001.dpx', 'frames')).toEqual(['']);
  });
});
