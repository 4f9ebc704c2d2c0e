import fc from 'fast-check';
import { expect, test } from 'vitest';
import { NO_FACTS } from '../../../src/core/intake/clip.ts';
import { type RecordedClip, recordedTwice } from '../../../src/core/intake/take-twice.ts';
import type { ClipFacts } from '../../../src/core/model.ts';

function clip(path: string, facts: Partial<ClipFacts> = {}, essenceBytes = 5000): RecordedClip {
  return {
    ...{ volume: 'stripe', unit: path, kind: 'original', name: path.slice(path.lastIndexOf('/') + 1), paths: [path] },
    facts: { ...NO_FACTS, frameRate: { num: 25, den: 1 }, durationSeconds: 60, startTimecode: '10:00:00:00', ...facts },
    essenceBytes,
  };
}

// A camcorder's manual: the last letter of the folder tells the slot, the clip's name is the same in both.
const [main, twin] = [clip('001RAQAM/001R001.MP4'), clip('001RAQAT/001R001.MP4')];

test('the same name, start and length in the folders of two cards', () => {
  expect(recordedTwice([twin, main, clip('001RAQAM/001R002.MP4')])).toEqual([
    {
      clips: [main, twin].map(({ unit }) => ({ volume: 'stripe', unit })),
      sameBytes: true,
    },
  ]);
});

test('of another size they are candidates still, but no copies', () => {
  expect(recordedTwice([main, clip('001RAQAT/001R001.MP4', {}, 4999)])).toMatchObject([{ sameBytes: false }]);
});

test.each([
  ['another start', clip('001RAQAT/001R001.MP4', { startTimecode: '10:00:00:01' })],
  ['another length', clip('001RAQAT/001R001.MP4', { durationSeconds: 60.05 })],
  ['no timecode', clip('001RAQAT/001R001.MP4', { startTimecode: null })],
  ['no length', clip('001RAQAT/001R001.MP4', { durationSeconds: null })],
  ['another name', clip('001RAQAT/001R003.MP4')],
  ['the same folder', clip('001RAQAM/001r001.MP4')],
  ['a proxy', { ...twin, kind: 'proxy' as const }],
])('%s: none', (_name, other) => {
  expect(recordedTwice([main, other])).toEqual([]);
});

test('two without timecode: none', () => {
  const bare = [main, twin].map((each) => ({ ...each, facts: { ...each.facts, startTimecode: null } }));
  expect(recordedTwice(bare)).toEqual([]);
});

test('any order gives the same', () => {
  const clips = fc.uniqueArray(
    fc
      .tuple(fc.constantFrom('a', 'b', 'c'), fc.constantFrom('1', '2'), fc.constantFrom(60, 60.03, 60.06, 61))
      .map(([folder, name, durationSeconds]) => clip(`${folder}/${name}.mxf`, { durationSeconds })),
    { selector: ({ unit }) => unit },
  );
  fc.assert(
    fc.property(
      clips.chain((all) => fc.tuple(fc.constant(all), fc.shuffledSubarray(all, { minLength: all.length }))),
      ([all, shuffled]) => {
        expect(recordedTwice(shuffled)).toEqual(recordedTwice(all));
      },
    ),
  );
});
