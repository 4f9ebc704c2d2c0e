import { messageOf } from '../core/fault.ts';
import { lastDay, type ReportPeriod } from '../core/notify/report-day.ts';
import type { Log, NotifyPort } from '../core/ports.ts';
import type { PageSection } from '../core/present/html/block.ts';
import { NO_REPORT_YET, noReportSection, reportSection } from '../core/present/html/report-section.ts';
import type { Report } from '../core/present/report.ts';

import { logNotify } from '../rim/notify/log-notify.ts';
import type { Store } from '../rim/store/store.ts';
import { systemClock } from '../rim/system/clock.ts';
import type { NotifySettings } from '../settings/full-settings.ts';
import type { AssessFlow } from './assess/assess-flow.ts';
import type { CardFlow } from './cards/card-flow.ts';
import type { Lifecycle } from './lifecycle.ts';
import { keepNews, makeReport } from './notify/report-desk.ts';
import { createReportFlow } from './notify/report-flow.ts';

export interface ReportParts {
  store: Store;
  assess: AssessFlow;
  cards: CardFlow;
  channels: { kept(): void };
  /** There is a newer one for the page. */
  made: () => void;
}

export interface ReportOptions {
  settings: { notify: readonly NotifySettings[] };
  log: Log;
  /** IANA name: days and hours are those of its clocks. */
  zone: string;
}

/** Reports: for whoever asks, for the page, and for the channels that are sent one. */
export interface ReportDesk {
  /** Of the last 24 hours. Rejects as the store does. */
  now(): Promise<Report>;
  /** The last one that was made for the page, as its section; has it made anew once a minute at the most. */
  latest(): PageSection;
  /** Begins to look when one is to be sent; ends with the rest of the daemon. */
  start(lifecycle: Lifecycle): Promise<void>;
}

/** The page asks every few seconds, and reads the same. */
const PAGE_MS = 60_000;

/** Announces in the log, and keeps what was announced for reports. */
export function composeNews({ history }: Store, log: Log): NotifyPort {
  return keepNews(logNotify(log, systemClock), { history, clock: systemClock, log });
}

/** What reports are made of, and when they are sent. */
export function composeReport({ settings, log, zone }: ReportOptions, parts: ReportParts): ReportDesk {
  const { store, assess, cards } = parts;
  const startedAt = systemClock.now();
  const make = (period: ReportPeriod): Promise<Report> =>
    makeReport(
      {
        ...{ history: store.history, ledger: store.ledger, startedAt, zone },
        shelves: () => store.backups.shelves(),
        ...{ assessment: assess.assessment, snapshot: assess.current, cards: cards.all },
      },
      period,
    );
  const now = (): Promise<Report> => make(lastDay(systemClock.now()));
  let section = NO_REPORT_YET;
  let askedAt = Number.NEGATIVE_INFINITY;
  return {
    now,
    latest() {
      const ticks = systemClock.ticks();
      if (ticks - askedAt < PAGE_MS) return section;
      askedAt = ticks;
      void now()
        .then(reportSection, (error) => noReportSection(messageOf(error)))
        .then((made) => {
          section = made;
          parts.made();
        });
      return section;
    },
    async start(lifecycle) {
      const flow = createReportFlow({
        channels: settings.notify.flatMap((one) =>
          one.kind === 'mail' && one.report !== null ? [{ name: one.name, minutes: one.report }] : [],
        ),
        ...{ queue: store.messages, make, kept: parts.channels.kept, clock: systemClock, log, zone },
        isRead: () => assess.assessment().volumes.every(({ state }) => state !== 'starting'),
      });
      lifecycle.defer('the report', flow.stop);
      await flow.start();
    },
  };
}
