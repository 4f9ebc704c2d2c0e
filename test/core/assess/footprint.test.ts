import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  addClip,
  addFile,
  addFileBytes,
  durationMicros,
  emptyFootprint,
  exposedOf,
  foldProjects,
  isFootage,
} from '../../../src/core/assess/footprint.ts';
import { clipOf, PRORES_UHD25, someFile } from '../../contracts/catalogue.material.ts';

const A = someFile('Saltmarsh/1.mov', { project: 'Saltmarsh' });
const PROXY = someFile('Saltmarsh/1.mp4', { project: 'Saltmarsh', kind: 'proxy', size: 7 });

const fold = (footprint: ReturnType<typeof emptyFootprint>) =>
  foldProjects(footprint.files.values(), footprint.clips.values());

describe('running sums', () => {
  test('a state replaced by another: the difference is what is new less what was', () => {
    const difference = emptyFootprint();
    addFile(difference, A, true, -1);
    addFile(difference, { ...A, size: 4000 }, true, 1);
    expect([...difference.files.values()]).toEqual([
      { volume: 'stripe', area: 'project', project: 'Saltmarsh', kind: 'original', files: 0, bytes: 3000 },
    ]);
  });

  test('a second name of one content adds a file and no bytes, until it becomes the counted one', () => {
    const footprint = emptyFootprint();
    addFile(footprint, A, true, 1);
    addFile(footprint, A, false, 1);
    expect([...footprint.files.values()]).toMatchObject([{ files: 2, bytes: 1000 }]);
    addFile(footprint, A, true, -1);
    addFileBytes(footprint, A, 1);
    expect([...footprint.files.values()]).toMatchObject([{ files: 1, bytes: 1000 }]);
  });

  test('adding and taking off in any order leaves exactly nothing', () => {
    const seconds = fc.array(fc.double({ min: 0, max: 1e6, noNaN: true }), { maxLength: 30 });
    fc.assert(
      fc.property(seconds, fc.infiniteStream(fc.nat()), (durations, order) => {
        const footprint = emptyFootprint();
        const clips = durations.map((durationSeconds) => clipOf([A], { ...PRORES_UHD25, durationSeconds }));
        for (const clip of clips) addClip(footprint, clip, 1);
        while (clips.length > 0) {
          const [clip] = clips.splice((order.next().value ?? 0) % clips.length, 1);
          if (clip !== undefined) addClip(footprint, clip, -1);
        }
        for (const sum of footprint.clips.values())
          expect(sum).toMatchObject({ clips: 0, bytes: 0, timedBytes: 0, durationMicros: 0 });
        expect(fold(footprint)).toEqual([]);
      }),
    );
  });
});

describe('foldProjects', () => {
  test('one frame at 24000/1001 a thousand times over is 41.708 s, to the millisecond', () => {
    // 1001 s / 24000 x 1000; each frame is rounded to a microsecond.
    const footprint = emptyFootprint();
    const facts = { ...PRORES_UHD25, frameRate: { num: 24_000, den: 1001 }, durationSeconds: 1001 / 24_000 };
    for (let n = 0; n < 1000; n += 1) addClip(footprint, clipOf([A], facts), 1);
    expect(fold(footprint)[0]?.durationSeconds).toBeCloseTo(41.708, 3);
  });

  test('formats of footage: one rate written in two ways is one, the largest comes first; what was made of it is in none', () => {
    const footprint = emptyFootprint();
    addClip(footprint, clipOf([A], { ...PRORES_UHD25, frameRate: { num: 50, den: 2 } }), 1);
    addClip(footprint, clipOf([PROXY], PRORES_UHD25), 1);
    addClip(footprint, clipOf([{ ...A, size: 9999 }], { ...PRORES_UHD25, frameRate: null, durationSeconds: null }), 1);
    const [project] = fold(footprint);
    expect(project?.formats).toMatchObject([
      { frameRate: null, clips: 1, bytes: 9999, timedBytes: 0, durationSeconds: 0 },
      { frameRate: { num: 25, den: 1 }, clips: 1, bytes: 1000, timedBytes: 1000, durationSeconds: 10 },
    ]);
    expect(project).toMatchObject({
      clips: 2,
      durationSeconds: 10,
      exposable: { clips: 2, durationMicros: 10_000_000 },
    });
  });

  test('what must have copies is bytes of files that are footage, clip or not, and nothing in the trash', () => {
    const footprint = emptyFootprint();
    addFile(footprint, A, true, 1);
    addFile(footprint, PROXY, true, 1);
    addFile(footprint, { ...A, kind: 'still', size: 30 }, true, 1);
    addClip(footprint, clipOf([PROXY], PRORES_UHD25), 1);
    const trashed = { ...A, area: 'trash' as const, project: null };
    addFile(footprint, trashed, true, 1);
    addClip(footprint, clipOf([trashed], PRORES_UHD25), 1);
    expect(fold(footprint)).toMatchObject([
      { bytes: 1037, footageBytes: 1030, clips: 0, exposable: { bytes: 1030, clips: 0, durationMicros: 0 } },
      { bytes: 1000, footageBytes: 1000, clips: 1, exposable: { bytes: 0, clips: 0, durationMicros: 0 } },
    ]);
  });

  test('what belongs to the system is never counted', () => {
    const footprint = emptyFootprint();
    addFile(footprint, { ...A, area: 'system', project: null }, true, 1);
    expect(fold(footprint)).toEqual([]);
  });

  test('footage is what was recorded: originals, sound, stills', () => {
    expect(['original', 'sound', 'still'].every((kind) => isFootage(kind as 'sound'))).toBe(true);
    expect(
      ['proxy', 'render', 'cache', 'sidecar', 'graphics', 'project-file', 'other'].some((kind) =>
        isFootage(kind as 'cache'),
      ),
    ).toBe(false);
  });
});

describe('exposedOf', () => {
  const all = { clips: 3, bytes: 300, durationMicros: 3_000_000 };

  test('is what is left, since its first sighting', () => {
    const covered = { clips: 1, bytes: 100, durationMicros: 500_000 };
    expect(exposedOf(all, covered, 42)).toEqual({ clips: 2, bytes: 200, durationSeconds: 2.5, since: 42 });
  });

  test('has no since when nothing is exposed', () => {
    expect(exposedOf(all, all, 42)).toEqual({ clips: 0, bytes: 0, durationSeconds: 0, since: null });
    // Stills are bytes and no clips; a clip may lack the copy of its sidecar alone.
    expect(exposedOf(all, { ...all, bytes: 299 }, 42).since).toBe(42);
    expect(exposedOf(all, { ...all, clips: 2 }, 42).since).toBe(42);
  });
});

test('durations are whole microseconds; unknown adds none', () => {
  expect([null, 0.04, 1001 / 30_000].map(durationMicros)).toEqual([0, 40_000, 33_367]);
});
