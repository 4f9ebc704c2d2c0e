import type { Advisory } from '../../../src/core/advise/advisory.ts';
import type { Assessment } from '../../../src/core/assess/assessment.ts';
import type { CapacityForecast } from '../../../src/core/assess/capacity-forecast.ts';
import { type BackupRun, newRun } from '../../../src/core/backup/backup-run.ts';
import { type BackupView, NO_BACKUPS, type ShelfState } from '../../../src/core/backup/backup-view.ts';
import type { ReportPeriod } from '../../../src/core/notify/report-day.ts';
import { type Report, type ReportFacts, reportOf } from '../../../src/core/present/report.ts';
import { reportParts } from '../../../src/core/present/report-words.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { cardSnapshot } from '../../../src/core/present/snapshot-cards.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { SAMPLE_CARD, SAMPLE_COPIES, sampleCard } from '../card-samples.ts';
import { NOTHING_MADE, sampleArrival, sampleAssessment, sampleSum, sampleVolume } from '../samples.ts';

const CONTEXT = { version: '0.1.0', page: null, zone: 'Europe/London' };

/** Facts of a time in which nothing was, with one volume, at the end of the time. */
export function factsOf(
  period: ReportPeriod,
  assessment: Partial<Assessment> = {},
  advisories: Parameters<typeof snapshot>[1] = [],
): ReportFacts {
  const state = sampleAssessment({ at: period.until, ...assessment });
  return {
    ...{ period, zone: CONTEXT.zone, runningSince: period.from, snapshot: snapshot(state, advisories, CONTEXT) },
    ...{ arrived: [], notDecoded: [], cards: [], incomplete: [], removals: [], removedFrom: period.from },
    ...{ copies: [], runs: [], news: [], newVolumes: [] },
    wanted: Object.fromEntries(state.volumes.map(({ name, wanted }) => [name, wanted])),
  };
}

export function reportOfNothing(period: ReportPeriod): Report {
  return reportOf(factsOf(period, { volumes: [sampleVolume()] }));
}

export const at = (text: string) => Temporal.Instant.from(text).epochMilliseconds;

/** The invented documentary was shot on 4 March 2027; its editor reads this on the morning after. */
export const NIGHT: ReportPeriod = {
  from: at('2027-03-04T07:30:00Z'),
  until: at('2027-03-05T07:30:00Z'),
  basis: 'last-report',
};

export const SALTMARSH = {
  ...{ volume: 'stripe', area: 'project' as const, project: 'Saltmarsh', clips: 12, bytes: 412e9 },
  // 1 h 52 min of recording.
  ...{ durationSeconds: 6720, untimed: 0, notDecoded: 0 },
  ...{ firstAt: at('2027-03-04T11:02:00Z'), lastAt: at('2027-03-04T18:40:00Z'), made: { clips: 4, bytes: 1.2e9 } },
};

export const PROJECT = { ...NOTHING_MADE, sum: sampleSum({ project: 'Saltmarsh' }), multicam: [] };

/** 414 GB in 2,300 s are 180 MB/s. */
export const BACKUP: BackupRun = {
  ...newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: at('2027-03-05T04:00:00Z') }),
  ...{
    stage: 'done',
    endedAt: at('2027-03-05T04:41:00Z'),
    wanted: { files: 14, bytes: 414e9 },
    files: 14,
    bytes: 414e9,
  },
  ...{ verifiedFiles: 14, verifiedBytes: 414e9, copyingSeconds: 2300, reread: 120 },
};

export const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, state: 'ready', message: null, lookedAt: NIGHT.until },
  known: { id: 'id-a', name: 'shelf-a', drive: null, seenAt: NIGHT.until, totalBytes: 8e12, freeBytes: 3e12 },
  ...{ volumes: ['stripe'], full: null },
};

/** What is exposed now is none; the next night begins at four; one in two thousand that all is lost before it has ended. */
export const VIEW: BackupView = {
  ...NO_BACKUPS,
  shelves: [SHELF],
  sums: [
    {
      ...{ shelf: 'id-a', volume: 'stripe', files: 134, bytes: 1.314e12, earlierBytes: 0, verifiedFiles: 134 },
      ...{ verifiedBytes: 1.314e12, differing: 0, unread: 0 },
      ...{ oldestReadAt: at('2027-02-01T04:00:00Z'), newestReadAt: at('2027-03-05T04:41:00Z') },
    },
  ],
  outlooks: new Map([
    [
      'stripe',
      {
        next: { at: at('2027-03-06T04:00:00Z'), reason: 'nightly', heldBy: null },
        ...{ wait: null, exposedTbHours: 0, lacks: [{ shelf: 'shelf-a', bytes: 0 }], due: [], nights: [] },
        loss: {
          ...{ hours: 21, chance: 0.0005, byDrives: 0.00048, byOther: 0.00002 },
          wear: { failsInYear: 0.015, otherInYear: 0.01, repairHours: 24 },
        },
      },
    ],
  ]),
};

/** The reserve is reached in 3 days in one case of ten, in 5 in one of two, in 9 in nine of ten. */
const FORECAST = {
  ...{ at: NIGHT.until, basis: 'shoot-days-seen', shootDays: 6, shootDayBytes: 412e9, planned: false, history: [] },
  reserve: { at10: 3, at50: 5, at90: 9, within24h: 0, within72h: 0.1, within7d: 0.75 },
  ...{ full: { at10: 5, at50: 8, at90: 14 }, withoutPlan: null, band: [] },
} as unknown as CapacityForecast;

/** Two cards, all footage of which is here; what copies that has was not looked up. */
export const CARDS_UNREAD: ReportFacts['cards'] = ['SM-A01', 'SM-A02'].map((name) => ({
  card: cardSnapshot(sampleCard(SAMPLE_COPIES, {}, { ...SAMPLE_CARD, name }), (instant) =>
    isoWithOffset(instant, 'Europe/London'),
  ),
  in: [{ volume: 'stripe', project: 'Saltmarsh' }],
}));

const CARDS = CARDS_UNREAD.map((one) => ({
  ...one,
  card: { ...one.card, copies: { files: 11, fewest: 2, without: 0, alike: true, shelves: [], lastReadAt: null } },
}));

export const BUSY: Advisory = {
  ...{ id: 'volume-busy:stripe', kind: 'volume-busy', severity: 'warning', subject: 'stripe', figures: {} },
  ...{ message: 'stripe has been busy for 5 minutes.', since: at('2027-03-05T02:10:00Z'), remedies: [] },
};

export function goodNight(): ReportFacts {
  const volumes = [sampleVolume({ forecast: FORECAST })];
  return {
    ...factsOf(NIGHT, { volumes, projects: [PROJECT], backups: VIEW }),
    ...{ arrived: [SALTMARSH], cards: CARDS, runs: [{ kind: 'backup', run: BACKUP }] },
    copies: [
      {
        shelf: 'shelf-a',
        sum: { volume: 'stripe', grade: 'device', state: 'good', isNew: true, files: 14, bytes: 414e9 },
      },
      {
        shelf: 'shelf-a',
        sum: { volume: 'stripe', grade: 'device', state: 'good', isNew: false, files: 120, bytes: 9e11 },
      },
    ],
    news: [
      { event: 'first', advisory: BUSY, at: at('2027-03-05T02:10:00Z') },
      { event: 'reminder', advisory: BUSY, at: at('2027-03-05T02:20:00Z') },
      { event: 'cleared', advisory: BUSY, at: at('2027-03-05T03:40:00Z') },
    ],
  };
}

/** 3 clips of 96 GB that came at 18:12 have too few copies: the drive of shelf-a was full. */
export function badNight(over: Partial<ReportFacts> = {}): ReportFacts {
  const full = 'No room is left on shelf-a.';
  const trouble = { reason: 'shelf-full' as const, advice: 'make room', code: 'ENOSPC' };
  const failed: BackupRun = {
    ...{ ...BACKUP, files: 11, bytes: 318e9, verifiedFiles: 11, verifiedBytes: 318e9, copyingSeconds: 2000, reread: 0 },
    failures: 3,
    troubles: [1, 2, 3].map((take) => ({ ...trouble, path: `Saltmarsh/A00${take}.mov`, message: full })),
  };
  const safety = {
    ...{ exposedBytes: 96e9, exposedClips: 3, exposedSeconds: 1560 },
    exposedSince: at('2027-03-04T18:12:00Z'),
  };
  const lacking = { name: 'SM-A01_[0001-0100].dng', missingFrames: [], missingParts: [], missingNames: [] };
  return {
    ...factsOf(NIGHT, {
      volumes: [sampleVolume({ safety })],
      projects: [{ ...PROJECT, lacking: [lacking] }],
      backups: VIEW,
      arrivals: [
        sampleArrival({ path: 'Saltmarsh/noise.mov', stage: 'refused', reason: 'not-media', since: NIGHT.from }),
        sampleArrival({ path: 'Saltmarsh/cut.mov', stage: 'settling', reason: 'incomplete', since: NIGHT.from }),
        sampleArrival({ path: 'Saltmarsh/coming.mov', bytes: 5e9 }),
      ],
    }),
    ...{ arrived: [SALTMARSH], runs: [{ kind: 'backup', run: failed }] },
    incomplete: [{ volume: 'stripe', project: 'Saltmarsh', takes: [lacking.name] }],
    ...over,
  };
}

/** Whole, with the copies that it has. */
const partsOf = (report: Report) => new Map(reportParts(report).map(({ heading, sentences }) => [heading, sentences]));
export const said = (facts: ReportFacts, heading: string) => partsOf(reportOf(facts)).get(heading) ?? [];
