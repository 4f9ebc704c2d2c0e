import type { Advisory } from '../../core/advise/advisory.ts';
import type { Assessment, CardAssessment } from '../../core/assess/assessment.ts';
import type { BackupRun } from '../../core/backup/backup-run.ts';
import { commandShelf } from '../../core/backup/command-run.ts';
import type { KnownShelf } from '../../core/backup/copies.ts';
import { messageOf } from '../../core/fault.ts';
import type { Instant } from '../../core/model.ts';
import type { ReportPeriod } from '../../core/notify/report-day.ts';
import type { Clock, Log, NotifyPort } from '../../core/ports.ts';
import { type Report, type ReportFacts, reportOf } from '../../core/present/report.ts';
import type { Snapshot } from '../../core/present/snapshot.ts';
import { cardSnapshot } from '../../core/present/snapshot-cards.ts';
import type { EndedRun, HistoryPort, Span } from '../../core/report-ports.ts';
import type { LedgerPort } from '../../core/store-ports.ts';
import { isoWithOffset } from '../../core/units.ts';

export interface ReportDeskDeps {
  history: HistoryPort;
  ledger: Pick<LedgerPort, 'removals'>;
  shelves: () => Promise<KnownShelf[]>;
  assessment: () => Assessment;
  snapshot: () => Snapshot;
  /** All cards and lists that are kept; looking them all up takes its time. */
  cards: () => Promise<CardAssessment[]>;
  startedAt: Instant;
  zone: string;
}

const HOUR_MS = 3_600_000;
const DAY_MS = 86_400_000;
const MOST_NAMED = 20;

/** Makes a report: what is kept of a time, beside how things stand. Rejects as the store does. */
export async function makeReport(deps: ReportDeskDeps, period: ReportPeriod): Promise<Report> {
  const { history, zone } = deps;
  const assessment = deps.assessment();
  const volumes = assessment.volumes.map(({ name }) => name);
  const facts: ReportFacts = {
    ...{ period, zone, runningSince: deps.startedAt, snapshot: deps.snapshot() },
    arrived: await history.arrived(period),
    notDecoded: await history.notDecoded(period, MOST_NAMED),
    cards: await cardsOf(deps, assessment, period),
    incomplete: incompleteOf(assessment),
    ...(await removalsOf(deps, volumes, period)),
    copies: await copiesOf(deps, assessment, period),
    runs: await runsOf(history, assessment, period),
    wanted: Object.fromEntries(assessment.volumes.map(({ name, wanted }) => [name, wanted])),
    news: await history.news(period),
    newVolumes: await newOf(history, volumes, period.from),
  };
  return reportOf(facts);
}

/** Those of which anything arrived or was read in the time. What was complete a day ago or less is at hand anyway. */
async function cardsOf(
  deps: ReportDeskDeps,
  assessment: Assessment,
  { from, until }: Span,
): Promise<ReportFacts['cards']> {
  const all = until - from > DAY_MS ? await deps.cards() : assessment.cards;
  const projects = assessment.projects.map(({ sum }) => sum);
  return all
    .filter(({ progress, reconciliation }) => {
      const { takenAt } = reconciliation.inventory;
      const isHere = reconciliation.deliveries.length > 0;
      return (isHere && progress.since >= from && progress.since < until) || (takenAt >= from && takenAt < until);
    })
    .map((card) => ({
      card: cardSnapshot(card, (at) => isoWithOffset(at, deps.zone), MOST_NAMED),
      in: card.reconciliation.deliveries.map(({ volume, folder }) => ({
        volume,
        project: projectAt(projects, volume, folder),
      })),
    }));
}

/** A project's name is its path below the root. */
function projectAt(
  projects: readonly Assessment['projects'][number]['sum'][],
  volume: string,
  folder: string,
): string | null {
  const names = projects.flatMap((sum) => (sum.volume === volume && sum.project !== null ? [sum.project] : []));
  const inside = names.filter((name) => folder === name || folder.startsWith(`${name}/`));
  return inside.toSorted((one, other) => other.length - one.length)[0] ?? null;
}

function incompleteOf({ projects }: Assessment): ReportFacts['incomplete'] {
  return projects.flatMap(({ sum, lacking }) =>
    // What lies in the trash is nobody's take any more.
    lacking.length === 0 || sum.area === 'trash'
      ? []
      : [{ volume: sum.volume, project: sum.project ?? '', takes: lacking.map(({ name }) => name) }],
  );
}

/** They are booked by the hour. */
async function removalsOf({ ledger }: ReportDeskDeps, volumes: readonly string[], { from, until }: Span) {
  const removedFrom = Math.floor(from / HOUR_MS) * HOUR_MS;
  const removals: { volume: string; removal: ReportFacts['removals'][number]['removal'] }[] = [];
  for (const volume of volumes) {
    for (const removal of await ledger.removals(volume, removedFrom))
      if (removal.hour < until) removals.push({ volume, removal });
  }
  return { removals, removedFrom };
}

/** Of what was ended with the daemon only the last is known, by the note of its volume and shelf. */
async function runsOf(history: HistoryPort, { backups }: Assessment, span: Span): Promise<EndedRun[]> {
  const kept = await history.runs(span);
  const isKept = (run: BackupRun) => kept.some((one) => one.kind === 'backup' && runName(one.run) === runName(run));
  const others = backups.runs.filter(
    (run) => run.endedAt !== null && run.endedAt >= span.from && run.endedAt < span.until && !isKept(run),
  );
  const all = [...kept, ...others.map((run): EndedRun => ({ kind: 'backup', run }))];
  return all.toSorted((one, other) => (one.run.endedAt ?? 0) - (other.run.endedAt ?? 0));
}

/** On shelves, and what was read back of what programs copied. */
async function copiesOf(deps: ReportDeskDeps, { backups }: Assessment, span: Span): Promise<ReportFacts['copies']> {
  const places = [
    ...(await deps.shelves()).map(({ id, name }) => ({ id, name })),
    ...backups.commands.map(({ name }) => ({ id: commandShelf(name), name })),
  ];
  const found: { shelf: string; sum: ReportFacts['copies'][number]['sum'] }[] = [];
  for (const { id, name } of places) {
    for (const sum of await deps.history.copiesRead(id, span)) found.push({ shelf: name, sum });
  }
  return found;
}

async function newOf(history: HistoryPort, volumes: readonly string[], from: Instant): Promise<string[]> {
  const found: string[] = [];
  for (const volume of volumes) if (!(await history.hasOlder(volume, from))) found.push(volume);
  return found;
}

/** Keeps a run that is over, for reports. What cannot be kept is told in the log, and costs nothing else. */
export function createRunNotes({ history, clock, log }: { history: HistoryPort; clock: Clock; log: Log }) {
  return (run: EndedRun): Promise<void> =>
    history.putRun(run, run.run.endedAt ?? clock.now()).catch((error) => notKept(log, 'how a backup ended', error));
}

/** Keeps each announcement for reports, after `next` was told of it. */
export function keepNews(
  next: NotifyPort,
  { history, clock, log }: { history: HistoryPort; clock: Clock; log: Log },
): NotifyPort {
  return {
    announce(event, advisory: Advisory) {
      next.announce(event, advisory);
      const at = clock.now();
      history.putNews({ event, advisory, at }).catch((error) => notKept(log, 'what was announced', error));
    },
  };
}

function notKept(log: Log, what: string, error: unknown): void {
  log.warn({ error: messageOf(error) }, `For reports ${what} could not be kept: ${messageOf(error)}`);
}

function runName({ volume, shelf, startedAt }: BackupRun): string {
  return JSON.stringify([volume, shelf, startedAt]);
}
