import { expect, test } from 'vitest';
import type { CardAssessment } from '../../../src/core/assess/assessment.ts';
import { newRun } from '../../../src/core/backup/backup-run.ts';
import { NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import type { ReportPeriod } from '../../../src/core/notify/report-day.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import type { AdvisoryNews, EndedRun, HistoryPort, ReadSum } from '../../../src/core/report-ports.ts';
import { createRunNotes, keepNews, makeReport } from '../../../src/daemon/notify/report-desk.ts';
import { SAMPLE_COPIES, sampleCard } from '../../core/card-samples.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../core/samples.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { fakeClock } from '../../fakes/clock.ts';
import { fakeLedger } from '../../fakes/ledger.ts';

const HOUR = 3_600_000;
const DAY = 24 * HOUR;
const PERIOD: ReportPeriod = { from: NOON - DAY, until: NOON, basis: 'last-day' };
const silent = { debug() {}, info() {}, warn() {}, error() {} };

/** What is kept of a time in which nothing was, and what was put. */
function historyOf(over: Partial<HistoryPort> = {}) {
  const put: (EndedRun | AdvisoryNews)[] = [];
  const history: HistoryPort = {
    ...{ arrived: async () => [], notDecoded: async () => [], hasOlder: async () => true, copiesRead: async () => [] },
    ...{ runs: async () => [], news: async () => [] },
    putRun: async (run) => void put.push(run),
    putNews: async (news) => void put.push(news),
    ...over,
  };
  return { history, put };
}

const project = (name: string, lacking: string[] = []) => ({
  ...{ ...NOTHING_MADE, sum: sampleSum({ project: name }), multicam: [] },
  lacking: lacking.map((take) => ({ name: take, missingFrames: [], missingParts: [], missingNames: [] })),
});

function stage(over: Partial<HistoryPort> = {}, cards: CardAssessment[] = [], kept: CardAssessment[] = []) {
  const ledger = fakeLedger();
  const assessment = sampleAssessment({
    volumes: [sampleVolume()],
    projects: [project('Saltmarsh', ['A001.mov']), project('Saltmarsh/Day 3'), project('Salt')],
    backups: {
      ...NO_BACKUPS,
      runs: [{ ...RUN, stage: 'stopped', startedAt: NOON - HOUR, endedAt: NOON - 1 }, RUN, { ...RUN, endedAt: null }],
      commands: [{ volume: 'stripe', name: 'tape', run: null, reported: null, nextAt: null }],
    },
    cards,
  });
  const make = (period = PERIOD) =>
    makeReport(
      {
        ...{ history: historyOf(over).history, ledger, startedAt: NOON - HOUR, zone: 'UTC' },
        shelves: async () => [
          { id: 'id-a', name: 'shelf-a', drive: null, seenAt: NOON, totalBytes: 8e12, freeBytes: 3e12 },
        ],
        ...{ assessment: () => assessment, cards: async () => kept },
        snapshot: () => snapshot(assessment, [], { version: '0.1.0', page: null, zone: 'UTC' }),
      },
      period,
    );
  return { ledger, make };
}

const RUN = {
  ...newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON - 9 * HOUR }),
  ...{ stage: 'done' as const, endedAt: NOON - 8 * HOUR },
};

const withTime = (card: CardAssessment, since: number, takenAt: number): CardAssessment => ({
  ...card,
  progress: { ...card.progress, since },
  reconciliation: { ...card.reconciliation, inventory: { ...card.reconciliation.inventory, takenAt } },
});

test('cards of which anything arrived in the time stand with the innermost project that their files lie in', async () => {
  const before = NOON - 3 * DAY;
  const arrived = withTime(sampleCard(SAMPLE_COPIES), NOON - HOUR, before);
  const earlier = withTime(sampleCard(SAMPLE_COPIES), before, before);
  // Below "Saltmarsh/Day 3/Card A"; "Salt" is another project.
  const sum = {
    ...{ volume: 'stripe', area: 'project' as const, clips: 1, bytes: 1, durationSeconds: 1, untimed: 0 },
    ...{ notDecoded: 0, firstAt: NOON - HOUR, lastAt: NOON - HOUR, made: { clips: 0, bytes: 0 } },
  };
  const names = ['Salt', 'Saltmarsh', 'Saltmarsh/Day 3'];
  const { make } = stage({ arrived: async () => names.map((name) => ({ ...sum, project: name })) }, [arrived, earlier]);
  const report = await make();
  expect(report.cards).toHaveLength(1);
  expect(report.arrived.map(({ project: name, cards }) => [name, cards])).toEqual([
    ['Salt', []],
    ['Saltmarsh', []],
    ['Saltmarsh/Day 3', ['SM-A01']],
  ]);
});

test('a card that was read and of which nothing arrived is there; over more than a day all that are kept are looked at', async () => {
  const read = withTime(sampleCard([]), NOON - 3 * DAY, NOON - HOUR);
  expect((await stage({}, [read]).make()).cards).toHaveLength(1);
  const nothing = withTime(sampleCard([]), NOON - HOUR, NOON - 3 * DAY);
  expect((await stage({}, [nothing]).make()).cards).toEqual([]);
  const long = { ...PERIOD, from: NOON - 5 * DAY };
  expect((await stage({}, [], [nothing]).make(long)).cards).toHaveLength(1);
});

test('runs that were noted stand in order with those that ended with the daemon, each once', async () => {
  const { make } = stage({ runs: async () => [{ kind: 'backup', run: RUN }] });
  expect((await make()).runs.map(({ state }) => state)).toEqual(['done', 'stopped']);
});

test('removals are told from the full hour on, and those of later hours are left out', async () => {
  const { ledger, make } = stage();
  const removed = { area: 'project' as const, project: 'Saltmarsh', files: 1, bytes: 10, footageBytes: 10 };
  for (const hour of [NOON - 25 * HOUR, NOON - DAY, NOON - HOUR, NOON]) ledger.book('stripe', { ...removed, hour });
  const report = await make({ ...PERIOD, from: NOON - DAY + HOUR / 2 });
  expect(report.removed).toEqual([{ volume: 'stripe', project: 'Saltmarsh', files: 2, bytes: 20, footageBytes: 20 }]);
  expect(report.removedFrom).toBe('2027-03-03T12:00:00.000+00:00');
});

test('copies are asked for by the id of each shelf, and by that of what programs copied', async () => {
  const sum: ReadSum = { volume: 'stripe', grade: 'device', state: 'good', isNew: true, files: 1, bytes: 1 };
  const { make } = stage({
    copiesRead: async (shelf) => (shelf === 'id-a' ? [sum] : shelf === 'command tape' ? [{ ...sum, files: 2 }] : []),
  });
  expect((await make()).copies.map(({ shelf, files }) => [shelf, files])).toEqual([
    ['shelf-a', 1],
    ['tape', 2],
  ]);
});

test('volumes of which nothing older is known, and takes that lack parts, are told', async () => {
  const report = await stage({ hasOlder: async () => false }).make();
  expect(report.newVolumes).toEqual(['stripe']);
  expect(report.incomplete).toEqual([{ volume: 'stripe', project: 'Saltmarsh', takes: ['A001.mov'] }]);
  expect(report.runningSince).toBe('2027-03-04T11:00:00.000+00:00');
  expect(report.wanted).toEqual({ stripe: { copies: 2, readWithinDays: 60 } });
});

test('announcements are told on and kept; a ledger that refuses costs the report alone', async () => {
  const clock = fakeClock(NOON);
  const { history, put } = historyOf();
  const told: string[] = [];
  const next = { announce: (event: string) => void told.push(event) };
  keepNews(next, { history, clock, log: silent }).announce('first', advisoryOf('stripe'));
  await createRunNotes({ history, clock, log: silent })({ kind: 'backup', run: RUN });
  expect(told).toEqual(['first']);
  expect(put).toEqual([
    { event: 'first', advisory: advisoryOf('stripe'), at: NOON },
    { kind: 'backup', run: RUN },
  ]);
  const full = () => Promise.reject(new Error('The disk is full.'));
  const lines: string[] = [];
  const log = { ...silent, warn: (_: object, text: string) => void lines.push(text) };
  const refusing = { ...historyOf({ putRun: full, putNews: full }), clock, log };
  keepNews(next, refusing).announce('cleared', advisoryOf('stripe'));
  await createRunNotes(refusing)({ kind: 'backup', run: RUN });
  expect(told).toEqual(['first', 'cleared']);
  expect(lines.toSorted()).toEqual([
    'For reports how a backup ended could not be kept: The disk is full.',
    'For reports what was announced could not be kept: The disk is full.',
  ]);
});
