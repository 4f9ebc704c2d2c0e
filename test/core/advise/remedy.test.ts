import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { fasterVolume, roomRemedies, speedRemedies } from '../../../src/core/advise/remedy.ts';
import type { Assessment, VolumeAssessment } from '../../../src/core/assess/assessment.ts';
import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import { readBudget } from '../../../src/core/assess/speed-budget.ts';
import type { FormatSum, ProjectSum } from '../../../src/core/store-ports.ts';
import {
  NOTHING_MADE,
  sampleArrival,
  sampleAssessment,
  sampleGives,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../samples.ts';

const SPACE = { totalBytes: 4e12, freeBytes: 1e11, availableBytes: 1e11 };
/** 400 GB are kept free, so 300 GB are missing. */
const SHORT = 3e11;

function remediesFor(sums: ProjectSum[], areas: ProjectSum[] = [], over: Partial<Assessment> = {}) {
  const volume: VolumeAssessment = sampleVolume({ capacity: assessCapacity(SPACE, { bytes: 4e11 }), areas });
  const projects = sums.map((sum) => ({ ...NOTHING_MADE, sum, multicam: [] }));
  return roomRemedies(volume, sampleAssessment({ volumes: [volume], projects, ...over }), SHORT);
}

const area = (name: 'shared' | 'trash', over: Partial<ProjectSum>) =>
  sampleSum({ area: name, project: null, byKind: {}, footageBytes: 0, ...over });

describe('making room', () => {
  test('the smallest project that suffices goes before a larger one; what does not suffice comes last', () => {
    const actions = remediesFor([
      sampleSum({ project: 'Saltmarsh', bytes: 2e12, byKind: {} }),
      sampleSum({ project: 'Lock Keepers', bytes: 1e11, byKind: {} }),
      sampleSum({ project: 'Tidewater Sessions', bytes: 4e11, byKind: {} }),
    ]);
    expect(actions.map((remedy) => remedy.action.match(/project (.*?) to/)?.[1])).toEqual([
      'Tidewater Sessions',
      'Saltmarsh',
      'Lock Keepers',
    ]);
    expect(actions[0]?.effect).toBe('frees 400 GB and leaves 500 GB to write');
    expect(actions[2]?.effect).toBe('frees 100 GB and leaves 200 GB to write; 200 GB are still missing');
  });

  test('caches and trash that suffice are easier than moving anything', () => {
    const remedies = remediesFor(
      [sampleSum({ bytes: 4e11, byKind: { cache: 2e11 } })],
      [
        area('shared', { bytes: 2e11, byKind: { cache: 2e11 } }),
        area('trash', { bytes: 35e10, byKind: { cache: 9e11 } }),
      ],
    );
    expect(remedies.map(({ action }) => action.split(' ').slice(0, 2).join(' '))).toEqual([
      'Let the',
      'Look through',
      'Move project',
    ]);
    expect(remedies[0]?.effect).toBe('frees 400 GB and leaves 500 GB to write');
  });

  test('what is exactly enough suffices', () => {
    expect(remediesFor([sampleSum({ bytes: SHORT, byKind: {} })])[0]?.effect).toBe(
      'frees 300 GB and leaves 400 GB to write',
    );
  });

  test('what would not be noticed is not proposed', () => {
    expect(remediesFor([], [area('trash', { bytes: 2.9e9 })])).toEqual([]);
    expect(remediesFor([], [area('trash', { bytes: 0 })])).toEqual([]);
  });

  test('a project that something is arriving in, or of another volume, is left in peace', () => {
    expect(remediesFor([sampleSum({ byKind: {} })], [], { arrivals: [sampleArrival()] })).toEqual([]);
    expect(
      remediesFor([sampleSum({ byKind: {} })], [], { arrivals: [sampleArrival({ stage: 'ready' })] }),
    ).toHaveLength(1);
    expect(remediesFor([sampleSum({ byKind: {}, volume: 'other' })])).toEqual([]);
    expect(remediesFor([sampleSum({ byKind: {}, area: 'unassigned', project: null })])).toEqual([]);
  });

  test.each([
    ['all copies there', { bytes: 0, clips: 0, durationSeconds: 0, since: null }, /once it has verified copies$/],
    [
      'some missing',
      { bytes: 1e9, clips: 3, durationSeconds: 9, since: null },
      /verified copies \(3 clips without, so not yet\)$/,
    ],
    ['not known', null, /verified copies \(which it has is not known now\)$/],
  ])('footage is moved or thrown away only after its copies: %s', (_, exposed, words) => {
    expect(remediesFor([sampleSum({ exposed, byKind: {} })])[0]?.action).toMatch(words);
  });

  test('footage in the trash is named', () => {
    const [remedy] = remediesFor([], [area('trash', { bytes: 1e12, footageBytes: 9e11 })]);
    expect(remedy?.action).toBe(
      'Look through the trash (900 GB of footage) and empty it, once all you want to keep has verified copies',
    );
  });

  test('no figure, no remedy', () => {
    expect(roomRemedies(sampleVolume({ capacity: null }), sampleAssessment(), 1)).toEqual([]);
  });
});

describe('playing within the budget', () => {
  const format = (over: Partial<FormatSum>): FormatSum => ({
    codec: 'H.264',
    width: 1920,
    height: 1080,
    frameRate: { num: 25, den: 1 },
    clips: 12,
    bytes: 6e9,
    durationSeconds: 1000,
    ...over,
    // All of known duration.
    timedBytes: over.bytes ?? 6e9,
  });
  const group = sampleGroup({ angles: 5, demandBps: 500e6, peakBps: 550e6 });

  test('as many angles as fit', () => {
    expect(speedRemedies(group, [], 420e6)).toEqual([
      { action: 'Play 3 of the 5 angles at once', effect: 'needs about 330 MB/s of 420 MB/s' },
    ]);
    expect(speedRemedies(group, [], 549e6)[0]?.action).toBe('Play 4 of the 5 angles at once');
    expect(speedRemedies(group, [], 110e6)[0]?.action).toBe('Play 1 of the 5 angles at once');
    expect(speedRemedies(group, [], 109e6)).toEqual([]);
    // Told before the budget is reached: one fewer is what helps.
    expect(speedRemedies(group, [], 900e6)[0]?.action).toBe('Play 4 of the 5 angles at once');
  });

  test('a lighter format only if clips of it exist and all angles then fit; the best picture first', () => {
    const [, light, lighter, ...rest] = speedRemedies(
      group,
      [
        format({}), // 6 MB/s a stream
        format({ codec: 'ProRes', bytes: 70e9, clips: 1 }), // 70 MB/s
        format({ codec: 'DPX', bytes: 90e9 }), // 90 MB/s: five are still too many
        format({ codec: 'PCM', width: null, height: null, bytes: 1e9 }), // sound
        format({ codec: 'RAW', height: null }),
        format({ codec: null }),
        format({ codec: 'MJPEG', durationSeconds: 0 }),
      ],
      420e6,
    );
    expect(light).toEqual({
      action: 'Cut with angles in ProRes 1920x1080 at 25 fps, as 1 clip of this project already is',
      effect: '5 angles then need about 385 MB/s of 420 MB/s',
    });
    expect(lighter).toEqual({
      action: 'Cut with angles in H.264 1920x1080 at 25 fps, as 12 clips of this project already are',
      effect: '5 angles then need about 33.0 MB/s of 420 MB/s',
    });
    expect(rest).toEqual([]);
  });

  test('a faster volume, one that gives what is needed and keeps its share free', () => {
    expect(fasterVolume(550e6, 420e6, 0.3)).toEqual({
      action: 'Edit from a volume that reads at least 786 MB/s',
      effect: '550 MB/s then stays within what may be asked for, here it is 420 MB/s',
    });
    expect(fasterVolume(550e6, 420e6, 0).action).toMatch(/ at least 550 MB\/s$/);
  });

  test('the volume it names is fast enough by the rule that the budget goes by, and one a little slower is not', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1e6, max: 5e9 }), fc.integer({ min: 0, max: 90 }), (demandBps, percent) => {
        const reserve = percent / 100;
        const [, figure, unit] =
          / at least ([\d.]+) ([MG])B\/s$/.exec(fasterVolume(demandBps, 0, reserve).action) ?? [];
        const readBps = Number(figure) * (unit === 'G' ? 1e9 : 1e6);
        const headroom = (share: number) => {
          const budgetBps = readBudget(sampleGives(readBps * share), reserve, 1);
          return (budgetBps - demandBps) / budgetBps;
        };
        // Figures are told to three digits.
        expect(headroom(1.005)).toBeGreaterThanOrEqual(0);
        expect(headroom(0.99)).toBeLessThan(0);
      }),
    );
  });
});
