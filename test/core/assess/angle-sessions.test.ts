import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { AngleSessions, multicamGroups } from '../../../src/core/assess/angle-sessions.ts';
import type { AngleClip } from '../../../src/core/assess/clip-times.ts';
import { runs } from '../../effort.ts';
import { sampleClip } from '../samples.ts';
import { bareTimecode, CONDITIONS, type Condition, pairsAmong, shootUnder } from './multicam-days.ts';

function spansOf(clips: readonly AngleClip[]) {
  const sessions = new AngleSessions();
  for (const clip of clips) sessions.put(clip);
  return sessions.spans();
}

function foundPairs(clips: readonly AngleClip[]): Set<string> {
  return new Set(spansOf(clips).flatMap((spans) => [...pairsAmong(spans)]));
}

/** Of thirty shoots together. */
function scoreUnder(condition: Condition) {
  let [found, truth, right, bare, bareRight] = [0, 0, 0, 0, 0];
  for (let seed = 1; seed <= 30; seed++) {
    const { clips, pairs } = shootUnder(condition, seed);
    const here = foundPairs(clips);
    found += here.size;
    truth += pairs.size;
    right += [...here].filter((pair) => pairs.has(pair)).length;
    const alone = pairsAmong(bareTimecode(clips));
    bare += alone.size;
    bareRight += [...alone].filter((pair) => pairs.has(pair)).length;
  }
  return {
    precision: found === 0 ? 1 : right / found,
    recall: right / truth,
    bare: bare === 0 ? 0 : bareRight / bare,
    found,
  };
}

describe('which clips ran together, whatever the discipline of timecode', () => {
  test.each(CONDITIONS.filter((condition) => condition !== 'copied times, record-run'))('%s', (condition) => {
    const { precision, recall } = scoreUnder(condition);
    expect(precision).toBeGreaterThanOrEqual(0.99);
    expect(recall).toBeGreaterThanOrEqual(0.99);
  });

  test('where a plain copy left nothing that tells, nothing is claimed', () => {
    for (let seed = 1; seed <= 30; seed++) {
      expect(multicamGroups(shootUnder('copied times, record-run', seed).clips)).toEqual([]);
    }
  });

  test('two cameras that took turns, counters running, with pauses too short to tell between most clips: nothing ran together', () => {
    // Three clips a camera and turn, 4 s between them: no sign. 40 s between turns: the counter shows that it waited.
    const counters = { A: 36_000, B: 36_000 };
    let at = 1_804_154_400;
    const clips = Array.from({ length: 60 }, (_, index) => {
      const camera = Math.floor(index / 3) % 2 === 0 ? 'A' : 'B';
      const counter = counters[camera];
      const recordedAt = new Date(at * 1000).toISOString();
      counters[camera] += 60;
      at += 60 + (index % 3 === 2 ? 40 : 4);
      const clock = [counter / 3600, (counter % 3600) / 60, counter % 60].map((part) =>
        String(Math.floor(part)).padStart(2, '0'),
      );
      return sampleClip(
        { unit: `${camera}${index}`, paths: [`${camera}001C${index}.mov`] },
        {
          reel: `${camera}001`,
          durationSeconds: 60,
          startTimecode: `${clock.join(':')}:00`,
          recordedAt,
          recordedAtBasis: 'container',
        },
      );
    });
    expect(multicamGroups(clips)).toEqual([]);
  });

  test('the timecode alone would be wrong where it does not run with the clock', () => {
    expect(scoreUnder('record-run').bare).toBeLessThan(0.2);
    expect(scoreUnder('several days').bare).toBeLessThan(0.6);
  });
});

describe('clips that come one by one', () => {
  test('come to the same groups as all at once, in any order, with some that go and some that come again', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...CONDITIONS),
        fc.integer({ min: 1, max: 1000 }),
        fc.integer({ min: 1, max: 1e6 }),
        (condition, seed, order) => {
          const { clips } = shootUnder(condition, seed, 3);
          const sessions = new AngleSessions();
          const shuffled = clips.toSorted((a, b) => rank(a, order) - rank(b, order));
          for (const [index, clip] of shuffled.entries()) {
            sessions.put(clip);
            if (index % 5 === 0) sessions.groups();
            if (index % 3 === 0) sessions.remove(shuffled[Math.floor(index / 2)]?.unit ?? '');
          }
          const gone = new Set(
            shuffled
              .filter((_, index) => rank(shuffled[index] ?? (clips[0] as AngleClip), seed) % 4 === 0)
              .map(({ unit }) => unit),
          );
          for (const clip of clips) {
            if (gone.has(clip.unit)) sessions.remove(clip.unit);
            else sessions.put(clip);
          }
          expect(sessions.groups()).toEqual(multicamGroups(clips.filter(({ unit }) => !gone.has(unit))));
        },
      ),
      { numRuns: runs(40) },
    );
  });

  test('a time of no known zone finds its place when an instant shows where that is', () => {
    const at = (camera: string, startTimecode: string, recordedAt: string) =>
      sampleClip(
        { unit: camera, paths: [`${camera}001.mov`] },
        { reel: `${camera}001`, durationSeconds: 60, startTimecode, recordedAt, recordedAtBasis: 'container' },
      );
    // Local time is eight hours behind; the second camera writes its time without a zone.
    const sessions = new AngleSessions();
    sessions.put(at('A', '10:00:00:00', '2027-03-04T10:00:00'));
    expect(sessions.groups()).toEqual([]);
    sessions.put(at('B', '10:00:05:00', '2027-03-04T18:00:05Z'));
    expect(sessions.groups()).toMatchObject([{ angles: 2, cameras: ['A', 'B'] }]);
    sessions.remove('A');
    expect(sessions.groups()).toEqual([]);
  });

  test('a camera that records two clips at once by its files was copied: such times count for nothing', () => {
    const at = (camera: string, index: number, minute: number) => ({
      ...sampleClip(
        { unit: `${camera}${index}`, paths: [`CAM_${camera}/x${index}.mov`] },
        { durationSeconds: 600, startTimecode: null },
      ),
      fileTimes: { writtenAt: (1_804_147_200 + minute * 60) * 1000, firstSeenAt: 1_804_247_200_000 },
    });
    const real = [at('A', 1, 10), at('A', 2, 30), at('B', 1, 12), at('B', 2, 31)];
    expect(multicamGroups(real).map(({ angles }) => angles)).toEqual([2, 2]);
    expect(multicamGroups(real)[0]?.evidence).toMatch(/^same time by when the files were written on cameras A, B/);
    const copied = [at('A', 1, 10), at('A', 2, 12), at('B', 1, 11), at('B', 2, 14)];
    expect(multicamGroups(copied)).toEqual([]);
  });
});

function rank({ unit }: AngleClip, salt: number): number {
  let mixed = salt;
  for (const character of unit) mixed = (Math.imul(mixed, 31) + character.charCodeAt(0)) >>> 0;
  return mixed;
}
