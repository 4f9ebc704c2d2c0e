import { describe, expect, test } from 'vitest';
import { roomRemedies } from '../../../src/core/advise/remedy.ts';
import type { Assessment, VolumeAssessment } from '../../../src/core/assess/assessment.ts';
import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import { NO_BACKUPS, type ShelfState } from '../../../src/core/backup/backup-view.ts';
import type { ProjectCopies } from '../../../src/core/backup/project-copies.ts';
import type { ProjectSum } from '../../../src/core/store-ports.ts';
import {
  NOON,
  NOTHING_MADE,
  sampleArrival,
  sampleAssessment,
  sampleCopies,
  sampleSum,
  sampleVolume,
} from '../samples.ts';

const SPACE = { totalBytes: 4e12, freeBytes: 1e11, availableBytes: 1e11 };
/** 400 GB are kept free, so 300 GB are missing. */
const SHORT = 3e11;
const LOOK = '. Look at those copies before anything is removed';
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, volumes: ['stripe'], state: 'ready', message: null },
  ...{ lookedAt: NOON, known: null, full: null },
};

const wholly = (sum: ProjectSum): ProjectCopies => sampleCopies(Math.max(0, sum.bytes - (sum.byKind.cache ?? 0)));

/** Of each project all has its copies, unless `copies` says otherwise. */
function remediesFor(
  sums: ProjectSum[],
  areas: ProjectSum[] = [],
  over: Partial<Assessment> = {},
  copies: (sum: ProjectSum) => ProjectCopies | null = wholly,
) {
  const volume: VolumeAssessment = sampleVolume({ capacity: assessCapacity(SPACE, { bytes: 4e11 }), areas });
  const projects = [...sums, ...areas].map((sum) => ({ ...NOTHING_MADE, sum, copies: copies(sum), multicam: [] }));
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
    expect(actions[0]?.effect).toBe(`frees 400 GB and leaves 500 GB to write${LOOK}`);
    expect(actions[2]?.effect).toBe(`frees 100 GB and leaves 200 GB to write; 200 GB are still missing${LOOK}`);
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
      projects: [{ ...NOTHING_MADE, sum, copies: wholly(sum), multicam: [], made }],
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
    const projects = [
      { ...NOTHING_MADE, sum: sampleSum({ bytes: SHORT, byKind: {} }), copies: sampleCopies(SHORT), multicam: [] },
    ];
    const [remedy] = roomRemedies(volume, sampleAssessment({ volumes: [volume], projects }), SHORT);
    expect(remedy?.effect).toBe(`frees 300 GB (not while snapshots hold it) and leaves 400 GB to write${LOOK}`);
  });

  test('what is exactly enough suffices', () => {
    expect(remediesFor([sampleSum({ bytes: SHORT, byKind: {} })])[0]?.effect).toBe(
      `frees 300 GB and leaves 400 GB to write${LOOK}`,
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

  const FROM = 'on shelf-a and shelf-b, each read back on 2027-02-25 or later';

  test('a project counts with what has its copies; shelves, the oldest reading and what lacks them are told', () => {
    const [remedy] = remediesFor([sampleSum({ byKind: {} })], [], {}, () => sampleCopies(8e11));
    expect(remedy).toEqual({
      action: `Move project Tidewater Sessions to another volume: 800 GB of it have 2 verified copies, ${FROM}; 200 GB have fewer than 2 verified copies that were read back within 60 days and are not counted`,
      effect: 'frees 800 GB and leaves 900 GB to write. Look at those copies before anything is removed',
    });
  });

  test('what is made, and all else that is copied, counts with the footage; caches do not', () => {
    const part = (bytes: number, oldestReadAt: number) => ({ bytes, oldestReadAt, shelves: ['shelf-c'] });
    const day = 86_400_000;
    const copies = sampleCopies(5e11, { made: part(2e11, NOON - 9 * day), other: part(1e11, NOON) });
    const [remedy] = remediesFor([sampleSum({ byKind: { cache: 2e11 } })], [], {}, () => copies);
    expect(remedy?.action).toMatch(
      /: all 800 GB of it have 2 verified copies, on shelf-a, shelf-b and shelf-c, each read back on 2027-02-23 or later$/,
    );
  });

  test('one that rests goes before one that footage came to lately, and says since when', () => {
    const volume = sampleVolume({ capacity: assessCapacity(SPACE, { bytes: 4e11 }) });
    const hourAgo = (days: number) => [{ hour: Math.floor(NOON / 3_600_000) - 24 * days, bytes: 1 }];
    const projects = [
      ['Saltmarsh', 5],
      ['Lock Keepers', 40],
    ].map(([project, days]) => ({
      ...{ ...NOTHING_MADE, sum: sampleSum({ project: String(project), byKind: {} }), copies: sampleCopies(1e12) },
      ...{ multicam: [], hours: hourAgo(Number(days)) },
    }));
    const actions = roomRemedies(volume, sampleAssessment({ volumes: [volume], projects }), SHORT).map(
      ({ action }) => action,
    );
    expect(actions[0]).toMatch(
      /^Move project Lock Keepers, to which no footage came since 2027-01-23, to another volume: all 1\.00 TB of it have/,
    );
    expect(actions[1]).toMatch(/^Move project Saltmarsh to another volume/);
  });

  test('nothing has its copies: backing up comes first, and nothing counts as room', () => {
    const backups = { ...NO_BACKUPS, shelves: [SHELF] };
    expect(remediesFor([sampleSum({ byKind: {} })], [], { backups }, () => sampleCopies(0))).toEqual([
      {
        action: 'Back up Tidewater Sessions first ("headroomd backup now"), before anything is moved to another volume',
        effect:
          '1.00 TB have fewer than 2 verified copies that were read back within 60 days, so none of it counts as room yet',
      },
    ]);
    const many = ['A', 'B', 'C', 'D', 'E'].map((project) => sampleSum({ project, bytes: 1e11, byKind: {} }));
    expect(remediesFor(many, [], { backups }, () => sampleCopies(0))).toMatchObject([
      { action: expect.stringMatching(/^Back up A, B, C and 2 more first/), effect: expect.stringMatching(/^500 GB/) },
    ]);
    const [unknown] = remediesFor([sampleSum({ byKind: {} })], [], {}, () => null);
    expect(unknown?.action).toMatch(/\(write a \[\[shelf\]\] and a \[\[backup\]\] into the configuration\)/);
    expect(unknown?.effect).toMatch(/^which copies they have is not known now, so none of it counts/);
  });

  test('one copy is enough where one is wanted', () => {
    const volume = sampleVolume({
      ...{ capacity: assessCapacity(SPACE, { bytes: 4e11 }), wanted: { copies: 1, readWithinDays: 30 } },
    });
    const copies = sampleCopies(6e11);
    const projects = [{ ...NOTHING_MADE, sum: sampleSum({ byKind: {} }), copies, multicam: [] }];
    const [remedy] = roomRemedies(volume, sampleAssessment({ volumes: [volume], projects }), SHORT);
    expect(remedy?.action).toMatch(
      /600 GB of it have a verified copy, on .*; 400 GB have no verified copy that was read/,
    );
  });

  test('proxies and renders without a known source count with their copies, the others for being made again', () => {
    const volume = sampleVolume({ capacity: assessCapacity(SPACE, { bytes: 4e11 }) });
    const copies = sampleCopies(0, {
      ...{ made: { bytes: 3e11, oldestReadAt: NOON, shelves: ['shelf-a', 'shelf-b'] }, unsourcedBytes: 1e11 },
    });
    const made = { ...NOTHING_MADE.made, bytes: 5e11, replaceableBytes: 3e11 };
    const projects = [{ ...NOTHING_MADE, sum: sampleSum({ byKind: {} }), made, copies, multicam: [] }];
    const [remedy] = roomRemedies(volume, sampleAssessment({ volumes: [volume], projects }), SHORT);
    expect(remedy).toEqual({
      action:
        'Look through the proxies and renders of Tidewater Sessions: 300 GB of footage that is here can be made again; 300 GB of them have 2 verified copies, on shelf-a and shelf-b, each read back on 2027-03-04 or later',
      effect: 'frees 400 GB and leaves 500 GB to write. Look at those copies before anything is removed',
    });
  });

  test('footage in the trash counts with its copies alone', () => {
    const trash = area('trash', { bytes: 1e12, footageBytes: 9e11 });
    expect(remediesFor([], [trash], {}, () => sampleCopies(5e11))[0]).toEqual({
      action: `Look through the trash and empty it (900 GB of footage: 500 GB of it have 2 verified copies, ${FROM}; 400 GB have fewer than 2 verified copies that were read back within 60 days and are not counted)`,
      effect: 'frees 600 GB and leaves 700 GB to write. Look at those copies before anything is removed',
    });
    expect(remediesFor([], [trash], {}, () => sampleCopies(0))[0]).toEqual({
      action:
        'Look through the trash: what is no footage there counts; of its 900 GB of footage 900 GB have fewer than 2 verified copies that were read back within 60 days and are not counted',
      effect: 'frees 100 GB and leaves 200 GB to write; 200 GB are still missing',
    });
    const [none] = remediesFor([], [area('trash', { bytes: 9e11, footageBytes: 9e11 })], {}, () => null);
    expect(none?.action).toMatch(/move out of it what you want to keep, so that it is backed up$/);
    expect(none?.effect).toMatch(/so none of it counts as room yet$/);
  });

  test('no figure, no remedy', () => {
    expect(roomRemedies(sampleVolume({ capacity: null }), sampleAssessment(), 1)).toEqual([]);
  });
});
