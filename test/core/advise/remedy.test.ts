import { describe, expect, test } from 'vitest';
import { roomRemedies } from '../../../src/core/advise/remedy.ts';
import type { Assessment, VolumeAssessment } from '../../../src/core/assess/assessment.ts';
import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import type { ProjectSum } from '../../../src/core/store-ports.ts';
import { NOTHING_MADE, sampleArrival, sampleAssessment, sampleSum, sampleVolume } from '../samples.ts';

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

  test('proxies and renders of footage that is here are gone through before footage is moved', () => {
    const sum = sampleSum({ project: 'Lock Keepers', bytes: 9e11, byKind: {} });
    const made = { ...NOTHING_MADE.made, bytes: 5e11, replaceableBytes: 35e10 };
    const volume = sampleVolume({ capacity: assessCapacity(SPACE, { bytes: 4e11 }) });
    const assessment = sampleAssessment({
      volumes: [volume],
      projects: [{ ...NOTHING_MADE, sum, multicam: [], made }],
    });
    const [first, second] = roomRemedies(volume, assessment, SHORT, 1e11);
    expect(first).toEqual({
      action: 'Look through the proxies and renders of Lock Keepers: those of footage that is here can be made again',
      effect: 'frees 350 GB and leaves 450 GB to write, about 3 shoot days more',
    });
    expect(second?.action).toMatch(/^Move project Lock Keepers/);
  });

  test('where snapshots may hold what is deleted, that is said', () => {
    const volume = sampleVolume({ capacity: assessCapacity(SPACE, { bytes: 4e11 }), fileSystem: 'btrfs' });
    const projects = [{ ...NOTHING_MADE, sum: sampleSum({ bytes: SHORT, byKind: {} }), multicam: [] }];
    const [remedy] = roomRemedies(volume, sampleAssessment({ volumes: [volume], projects }), SHORT);
    expect(remedy?.effect).toBe('frees 300 GB (not while snapshots hold it) and leaves 400 GB to write');
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
