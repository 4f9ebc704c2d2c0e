import type { AdvisoryKind } from '../../../src/core/advise/advisory.ts';
import type { Assessment, VolumeAssessment } from '../../../src/core/assess/assessment.ts';
import type { CapacityForecast } from '../../../src/core/assess/capacity-forecast.ts';
import type { DetectedLayout } from '../../../src/core/assess/detected-layout.ts';
import { newRun } from '../../../src/core/backup/backup-run.ts';
import {
  type BackupOutlook,
  type BackupView,
  NO_BACKUPS,
  type ShelfState,
} from '../../../src/core/backup/backup-view.ts';
import type { DueNight } from '../../../src/core/backup/due-nights.ts';
import { nightFigures } from '../../../src/core/backup/window.ts';
import { untrusted } from '../../../src/core/cards/list-check.ts';
import { SAMPLE_CARD, sampleCard } from '../card-samples.ts';
import { copyOf, manifestOf } from '../cards/arrived.ts';
import {
  NOON,
  NOTHING_MADE,
  sampleArrival,
  sampleAssessment,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../samples.ts';

/** What a person or a program has named, and may be anything. */
export interface Names {
  volume: string;
  project: string;
  /** Below the volume. */
  path: string;
  shelf: string;
  /** Words that came from elsewhere: an error, a mount's complaint. */
  detail: string;
}

export const USUAL: Names = {
  ...{ volume: 'stripe', project: 'Tidewater Sessions', path: 'Tidewater Sessions/Footage/A001C002.mov' },
  ...{ shelf: 'shelf-a', detail: 'the system says input/output error' },
};

/** Where an advisory's condition holds, and which of these names it is about. */
export interface KindCase {
  assessment: (names: Names) => Assessment;
  about: (names: Names) => string;
}

const HOUR = 3_600_000;
const TB = 1e12;
const aboutVolume = ({ volume }: Names) => volume;
const aboutShelf = ({ shelf }: Names) => shelf;
const aboutProject = ({ project }: Names) => project;

/** A volume in a state, with one project on it. */
function withVolume(over: (names: Names) => Partial<VolumeAssessment>, more: Partial<Assessment> = {}): KindCase {
  return {
    about: aboutVolume,
    assessment(names) {
      const volume = sampleVolume({ name: names.volume, path: `/media/${names.path}`, ...over(names) });
      return sampleAssessment({ volumes: [volume], projects: [projectOf(names)], ...more });
    },
  };
}

function projectOf({ volume, project }: Names) {
  return { ...NOTHING_MADE, sum: sampleSum({ volume, project }), multicam: [] };
}

/** A project in a state. */
function withProject(over: (names: Names) => Partial<ReturnType<typeof fullProject>>): KindCase {
  return {
    about: aboutProject,
    assessment: (names) =>
      sampleAssessment({
        volumes: [sampleVolume({ name: names.volume })],
        projects: [{ ...fullProject(names), ...over(names) }],
      }),
  };
}

const fullProject = (names: Names): Assessment['projects'][number] => projectOf(names);

/** A volume with one shelf, and what is known of its backups. */
function withBackups(
  over: (names: Names, shelf: ShelfState) => Partial<BackupView>,
  about: KindCase['about'] = aboutShelf,
): KindCase {
  return {
    about,
    assessment(names) {
      const { volume, shelf: name, path } = names;
      const shelf: ShelfState = {
        ...{ name, path: `/media/${path}`, rotate: false, volumes: [volume], state: 'ready', message: null },
        ...{ lookedAt: NOON, full: { at10: null, at50: NOON + 48 * HOUR, at90: null } },
        known: { id: 'id-a', name, drive: 'd1', seenAt: NOON - 50 * HOUR, totalBytes: 8 * TB, freeBytes: 0.4 * TB },
      };
      return sampleAssessment({
        volumes: [sampleVolume({ name: volume })],
        projects: [projectOf(names)],
        backups: { ...NO_BACKUPS, shelves: [shelf], ...over(names, shelf) },
      });
    },
  };
}

function outlookOf({ shelf }: Names, over: Partial<BackupOutlook> = {}): BackupOutlook {
  const lacks = [{ shelf, bytes: 0.3 * TB }];
  return { next: null, wait: null, exposedTbHours: null, lacks, nights: [], due: [], loss: null, ...over };
}

function dueOf({ shelf }: Names, over: Partial<DueNight>): DueNight {
  const night = NOON - 8 * HOUR;
  return {
    ...{ shelf, isThere: true, lacksBytes: 0.3 * TB, missed: { first: night, last: night } },
    ...{ windowEndsAt: night + 6 * HOUR, nextAt: night + 24 * HOUR, wait: 'playback', ...over },
  };
}

const FORECAST: CapacityForecast = {
  ...{ at: NOON, basis: 'shoot-days-seen', shootDays: 12, shootDayBytes: 200e9, planned: false },
  ...{ withoutPlan: null, notHappening: [], band: null, history: [], full: null },
  reserve: { at10: 2, at50: 3, at90: 6, within24h: 0.1, within72h: 0.6, within7d: 0.95 },
};
const DETECTED: DetectedLayout = {
  ...{ level: '5', members: 4, drive: 'hdd', link: null, by: 'md', drives: [], errors: [], notSeen: [] },
  health: { state: 'degraded', missing: 1, action: null, done: null },
};
const EXPOSED = { exposedBytes: 5e11, exposedClips: 12, exposedSeconds: 60, exposedSince: NOON - 40 * HOUR };
const RATES = [
  { num: 25, den: 1 },
  { num: 50, den: 1 },
];

/** One case for each kind: the type sees to that. */
export const KIND_CASES: Readonly<Record<AdvisoryKind, KindCase>> = {
  'state-refused': {
    about: ({ detail }) => detail,
    assessment: ({ detail }) => sampleAssessment({ stateTrouble: { message: `${detail}.`, since: NOON - HOUR } }),
  },
  'state-disk-low': {
    about: ({ path }) => path,
    assessment: ({ path }) =>
      sampleAssessment({
        machine: { clockJump: null, stateRoom: { path: `/state/${path}`, availableBytes: 90e6, ownBytes: 60e6 } },
      }),
  },
  'volume-absent': withVolume(({ detail }) => ({ state: 'absent', stateDetail: detail })),
  'volume-read-only': withVolume(() => ({ readOnly: { turnedAt: NOON }, safety: EXPOSED })),
  'array-degraded': withVolume(() => ({ detected: DETECTED, safety: EXPOSED })),
  'drive-failing': withVolume(({ detail }) => ({
    signs: [
      {
        drive: 'sdb',
        model: detail,
        serial: detail,
        kind: 'errors-counted',
        severity: 'warning',
        words: 'the array has counted 3 errors of it',
      },
    ],
  })),
  'capacity-reserve': withVolume(() => ({
    capacity: {
      space: { totalBytes: 4 * TB, freeBytes: 0.3 * TB, availableBytes: 0.3 * TB },
      ...{ reserveBytes: 0.4 * TB, roomBytes: -0.1 * TB },
    },
  })),
  'footage-time': withVolume(() => ({
    footageLeft: { cameras: 4, bps: 440e6, reserveSeconds: 1_364, fullSeconds: 2_273 },
    session: { seconds: 21_600, basis: 'plan' },
  })),
  'capacity-overrun': withVolume(() => ({ forecast: FORECAST })),
  'plan-missed': {
    about: aboutProject,
    assessment({ volume, project }) {
      const plans = [{ volume, plan: { project, days: ['2027-03-03', '2027-03-05', '2027-03-06'] } }];
      const forecast = { ...FORECAST, notHappening: [project] };
      return sampleAssessment({
        volumes: [sampleVolume({ name: volume, forecast })],
        plans: plans as unknown as Assessment['plans'],
      });
    },
  },
  'speed-overrun': {
    about: aboutProject,
    assessment: (names) => {
      const edit = { ...NOTHING_MADE.edit, declared: true };
      const multicam = [sampleGroup({ demandBps: 900e6, peakBps: 990e6, cameras: ['A', names.detail] })];
      return sampleAssessment({
        volumes: [sampleVolume({ name: names.volume })],
        projects: [{ ...projectOf(names), multicam, edit }],
      });
    },
  },
  'volume-busy': withVolume(() => ({
    load: { share: 0.93, isHigh: true, readBps: 400e6, writeBps: 2e6, ownReadBps: 0 },
  })),
  'volume-slow': withVolume(() => ({
    measured: { at: NOON, readBps: 800e6, writeBps: 700e6, expectedReadBps: 2e9, expectedWriteBps: 1.7e9 },
  })),
  'layout-contradiction': withVolume(() => ({
    detected: { ...DETECTED, health: { ...DETECTED.health, state: 'whole', missing: 0 } },
  })),
  'watch-limit': withVolume(() => ({ watchLimit: { name: 'max_user_watches', folders: 3_100, wanted: 524_288 } })),
  'clock-jump': {
    about: () => 'clock',
    assessment: () => sampleAssessment({ machine: { stateRoom: null, clockJump: { at: NOON, byMs: 3 * HOUR } } }),
  },
  'copy-differs': withBackups(({ volume, shelf, path }) => {
    const elsewhere = { shelf: 'shelf-b', path, verified: true, readAt: NOON - HOUR };
    const bad = [{ path: `${volume}/${path}`, source: path, state: 'differs', is: 'as-copied', elsewhere } as const];
    const findings = [{ volume, shelf, bad, badFiles: 1, altered: [], rereadSeconds: 1, late: { files: 0, bytes: 0 } }];
    return { findings };
  }),
  'backup-failed': withBackups(({ volume, shelf, path, detail }) => {
    const trouble = {
      reason: 'shelf-full',
      path,
      code: null,
      message: `${shelf} has no room for ${path} (${detail})`,
    } as const;
    const run = newRun({ volume, shelf, cause: 'nightly', startedAt: NOON });
    const troubles = [{ ...trouble, advice: 'make room on the shelf, or use a larger one' }];
    return { runs: [{ ...run, stage: 'done', endedAt: NOON, failures: 3, troubles }] };
  }),
  'shelf-read-only': withBackups((names, shelf) => ({
    shelves: [{ ...shelf, readOnly: true }],
    outlooks: new Map([[names.volume, outlookOf(names)]]),
  })),
  'shelf-absent': withBackups((names, shelf) => ({
    shelves: [{ ...shelf, state: 'shelf-absent', message: `${names.shelf} is not there: ${names.detail}.` }],
    outlooks: new Map([[names.volume, outlookOf(names, { due: [dueOf(names, { isThere: false })] })]]),
  })),
  'backup-missed': withBackups((names) => ({
    outlooks: new Map([[names.volume, outlookOf(names, { due: [dueOf(names, {})] })]]),
  })),
  'footage-exposed': withVolume(() => ({ safety: EXPOSED })),
  'backup-window': withBackups((names) => {
    const night = nightFigures({ bytes: 1.5 * TB, bytesPerDay: 0.5 * TB, windowSeconds: 6 * 3600 }, 2 / 120e6);
    const nights = [{ ...night, shelves: 1, slotAt: NOON + 7 * HOUR, isRunning: false }];
    return { outlooks: new Map([[names.volume, outlookOf(names, { nights })]]) };
  }, aboutVolume),
  'shelf-filling': withBackups((names) => ({ outlooks: new Map([[names.volume, outlookOf(names)]]) })),
  'single-shelf': withBackups(() => ({}), aboutShelf),
  'list-differs': {
    about: ({ path }) => path,
    assessment({ path }) {
      const list = manifestOf('m', 'Saltmarsh/Day 3', [{ path, size: 5, mtimeMs: null }]);
      const card = sampleCard([copyOf(`Saltmarsh/Day 3/${path}`, 5)], { state: 'manifest' }, list);
      const altered = [{ path, size: 5, format: 'md5', listed: 'aa', found: 'bb' } as const];
      const check = { ...untrusted('', 'mark', NOON), trouble: null, files: 1, altered: 1 };
      return sampleAssessment({ cards: [{ ...card, check: { ...check, first: { ...check.first, altered } } }] });
    },
  },
  'card-incomplete': {
    about: ({ shelf }) => shelf,
    assessment: ({ shelf: name, path: place, detail: gap }) =>
      sampleAssessment({ cards: [sampleCard([], { state: 'gone' }, { ...SAMPLE_CARD, name, place, gap })] }),
  },
  'take-incomplete': withProject(({ path }) => ({
    lacking: [{ name: path, missingFrames: [{ first: 7, last: 9 }], missingParts: [], missingNames: [path] }],
  })),
  'clip-undecoded': withProject(({ path, detail }) => ({
    undecoded: [{ name: path, bytes: 4e9, troubles: [detail], readyAt: NOON }],
  })),
  'take-differs': withProject(({ path }) => ({
    differing: [{ name: path, by: 'content', places: [path, `b/${path}`].map((one) => ({ path: one, bytes: 4e9 })) }],
  })),
  'mixed-rates': withProject(({ detail }) => ({
    multicam: [
      sampleGroup({
        frameRates: RATES,
        cameraRates: RATES.map((frameRate, at) => ({ camera: ['A', detail][at] ?? '', frameRate })),
      }),
    ],
  })),
  'arrival-stalled': {
    about: ({ path }) => path,
    assessment: ({ volume, path, detail }) =>
      sampleAssessment({
        volumes: [sampleVolume({ name: volume })],
        arrivals: [sampleArrival({ volume, path, unit: path, detail, stage: 'stalled', reason: 'incomplete' })],
      }),
  },
  'arrival-refused': {
    about: ({ path }) => path,
    assessment: ({ volume, path, detail }) =>
      sampleAssessment({
        volumes: [sampleVolume({ name: volume })],
        arrivals: [sampleArrival({ volume, path, unit: path, detail, stage: 'refused', reason: 'not-media' })],
      }),
  },
};
