import { formatDays } from '../core/assess/format-days.ts';
import { VERIFIED_GRADES } from '../core/backup/copies.ts';
import { kindFolders } from '../core/intake/kind.ts';
import type { Log } from '../core/ports.ts';
import { cardJson } from '../core/present/card-list.ts';
import { clipJson } from '../core/present/clips-table.ts';
import { display } from '../core/present/escape.ts';
import { htmlPage } from '../core/present/html/page.ts';
import type { LostOnShelf } from '../core/present/restore-list.ts';
import { backupSnapshot } from '../core/present/snapshot-backups.ts';
import { unseenSnapshot } from '../core/present/snapshot-cards.ts';
import { verifySnapshot } from '../core/present/snapshot-verify.ts';
import type { RootPort } from '../core/root-port.ts';
import type { CataloguePort, LedgerPort } from '../core/store-ports.ts';
import { isoWithOffset } from '../core/units.ts';
import { systemClock } from '../rim/system/clock.ts';
import type { PageSource } from '../rim/web/page-routes.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { AssessFlow } from './assess/assess-flow.ts';
import type { PlanBook } from './assess/plan-book.ts';
import { createSnoozeDesk } from './assess/snooze-desk.ts';
import type { VolumeSource } from './assess/volume-source.ts';
import type { LostFiles } from './backup/backup-flow.ts';
import type { CardFlow } from './cards/card-flow.ts';
import type { BackupDesk } from './compose-backup.ts';
import type { Monitor } from './compose-monitor.ts';
import { composePlots } from './compose-page.ts';
import type { ReportDesk } from './compose-report.ts';
import { composeMeasured, composePlan } from './compose-speed.ts';
import { createSweepDesk } from './intake/sweep-desk.ts';

export interface SourceParts {
  options: { settings: FullSettings; zone: string; log: Log };
  catalogue: CataloguePort;
  ledger: LedgerPort;
  assess: AssessFlow;
  cards: CardFlow;
  book: PlanBook;
  backup: BackupDesk;
  report: ReportDesk;
  monitor: Monitor;
  watched: readonly { source: Pick<VolumeSource, 'settings' | 'state'>; root: Pick<RootPort, 'sweep'> }[];
}

/** What the doors show and do: every verb and the page ask here. */
export function composeSource({
  options,
  catalogue,
  ledger,
  assess,
  cards,
  book,
  backup,
  report,
  monitor,
  watched,
}: SourceParts): PageSource {
  const { settings, zone } = options;
  const iso = (instant: number) => isoWithOffset(instant, zone);
  const desk = createSnoozeDesk({ ...assess, clock: systemClock, log: options.log, zone });
  const volumes = watched.map(({ source, root }) => ({ settings: source.settings, root }));
  const sweeps = createSweepDesk(volumes, systemClock, options.log);
  return {
    snapshot: assess.current,
    monitor: monitor.source({
      ...{ zone, snapshot: assess.current, successes: backup.successes },
      volumes: () => watched.map(({ source }) => ({ name: source.settings.name, state: source.state().state })),
    }),
    clips: async (query) => {
      const kinds = new Map(settings.volumes.map((volume) => [volume.name, kindFolders(volume.kinds)]));
      return (await catalogue.clips(query)).flatMap((clip) => {
        const folders = kinds.get(clip.volume);
        return folders === undefined ? [] : [clipJson(clip, folders)];
      });
    },
    cards: async () => ({
      at: iso(systemClock.now()),
      cards: (await cards.all()).map((card) => cardJson(card, iso)),
      unseen: cards.current().unseen.map((one) => unseenSnapshot(one, iso)),
    }),
    dropCard: async (id) => {
      const told = await cards.drop(id);
      return told === null ? null : cardJson(told, iso);
    },
    sayKept: async (id, by) => {
      const told = await cards.say(id, by);
      return 'card' in told ? { card: cardJson(told.card, iso) } : told;
    },
    measured: composeMeasured(settings, assess.measured),
    ...composePlan(options, book, assess),
    snooze: ({ names, ...asked }) => desk.snooze(names, asked),
    liftSnooze: ({ names, by }) => desk.lift(names, by),
    snoozed: () => ({ at: iso(systemClock.now()), advisories: desk.list() }),
    lost: async (ask) => (await backup.lost(ask)).map((one) => lostJson(one, iso)),
    sweep: (volume) => sweeps.begin(volume),
    sweeps: () =>
      sweeps.view().map((run) => {
        return { ...run, startedAt: iso(run.startedAt), endedAt: run.endedAt === null ? null : iso(run.endedAt) };
      }),
    verify: (ask) => backup.verify.begin(ask),
    verifications: () => backup.verify.view().map((run) => verifySnapshot(run, iso)),
    endVerify: backup.verify.cancel,
    backupNow: (ask) => backup.now({ ...ask, cause: 'command' }),
    backups: () => backup.view().runs.map((run) => backupSnapshot(run, iso)),
    page: () => htmlPage(assess.current(), [report.latest()]),
    plots: composePlots(
      ledger,
      settings.volumes.map(({ name }) => name),
      assess.current,
      zone,
    ),
    formats: async (volume, project) => {
      // The page knows names as they are shown.
      const shown = assess
        .assessment()
        .projects.find(({ sum }) => display(sum.volume) === volume && display(sum.project ?? '') === project);
      const hours = shown === undefined ? [] : await catalogue.formatHours(shown.sum.volume, shown.sum.project ?? '');
      return formatDays(hours, dayIn(zone));
    },
    report: report.now,
  };
}

const HOUR_MS = 3_600_000;

/** The calendar day of a zone on which an hour since 1970 begins. */
function dayIn(zone: string): (hour: number) => string {
  return (hour) => isoWithOffset(hour * HOUR_MS, zone).slice(0, 10);
}

function lostJson({ volume, shelf, files }: LostFiles, iso: (instant: number) => string): LostOnShelf {
  return {
    ...{ volume: volume.name, shelf: shelf.name, volumePath: volume.path, shelfPath: shelf.path },
    files: files.map(({ source, size, grade, readAt }) => ({
      ...{ path: source, size, verified: VERIFIED_GRADES.includes(grade), readAt: iso(readAt) },
    })),
  };
}
