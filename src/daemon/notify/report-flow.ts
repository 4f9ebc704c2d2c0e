import { messageOf } from '../../core/fault.ts';
import type { ReportQueuePort } from '../../core/notify/queue-port.ts';
import { periodOf, type ReportPeriod, reportDay, reportDue } from '../../core/notify/report-day.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { Report } from '../../core/present/report.ts';
import { MAIL_WIDTH, reportText } from '../../core/present/report-text.ts';

export interface ReportFlowDeps {
  /** Channels that are sent a report, and at which minute of each day. */
  channels: readonly { name: string; minutes: number }[];
  queue: ReportQueuePort;
  make: (period: ReportPeriod) => Promise<Report>;
  /** Every volume was read once since the start, or is not there. */
  isRead: () => boolean;
  /** There is one in the queue. */
  kept: () => void;
  clock: Clock;
  log: Log;
  zone: string;
}

export interface ReportFlow {
  start(): Promise<void>;
  stop(): Promise<void>;
}

/** The wall clock may be set, and a machine sleeps: it is looked at so often. */
const LOOK_MS = 60_000;
/** And so often while one is due, and volumes are still being read. */
const READING_MS = 3_000;

/** due? > period > make > queue, for each channel once a day. The queue's own loop sends it, and tries again. */
export function createReportFlow(deps: ReportFlowDeps): ReportFlow {
  const { channels, queue, clock, log, zone } = deps;
  const startedTicks = clock.ticks();
  let cancel = (): void => {};
  let working: Promise<void> | null = null;
  let stopped = false;
  let isTold = false;
  let isReading = false;

  /** The hour of its first day may be over: nobody waits for a report then. */
  async function begin(): Promise<void> {
    const now = clock.now();
    for (const { name, minutes } of channels) {
      const today = reportDay(minutes, zone, now);
      const day = now < today.at ? Temporal.PlainDate.from(today.day).subtract({ days: 1 }).toString() : today.day;
      await queue.beginReports(name, day, now);
    }
  }

  async function look({ name, minutes }: ReportFlowDeps['channels'][number]): Promise<void> {
    const now = clock.now();
    const today = reportDay(minutes, zone, now);
    const { isMade, sentUntil } = await queue.reportsOf(name, today.day, now);
    const waitedMs = clock.ticks() - startedTicks;
    const { isDue, reason } = reportDue(today, { isMade, isRead: deps.isRead(), waitedMs }, now);
    log.debug({ channel: name, day: today.day, reason }, 'report looked at');
    if (reason === 'being-read') isReading = true;
    if (!isDue) return;
    const report = await deps.make(periodOf(minutes, zone, now, sentUntil));
    const { title } = report.verdict;
    const text = reportText(report, MAIL_WIDTH).trimEnd();
    const message = {
      channel: name,
      event: 'report',
      advisory: null,
      day: today.day,
      until: now,
      title,
      text,
      at: now,
    };
    if (!(await queue.putReport({ ...message, event: 'report' }))) return;
    log.info(
      { channel: name, day: today.day, lateSeconds: Math.round((now - today.at) / 1000) },
      `${display(name)}: the report of ${today.day} is sent: ${title}`,
    );
    deps.kept();
  }

  async function lookAtAll(): Promise<void> {
    try {
      isReading = false;
      await begin();
      for (const channel of channels) if (!stopped) await look(channel);
      isTold = false;
    } catch (error) {
      if (!isTold)
        log.error(
          { error: messageOf(error) },
          `A report could not be made or kept, and is tried again: ${messageOf(error)}`,
        );
      isTold = true;
    }
    working = null;
    if (!stopped) cancel = clock.after(pauseMs(), run);
  }

  function pauseMs(): number {
    const now = clock.now();
    const ahead = channels.map(({ minutes }) => reportDay(minutes, zone, now).at - now).filter((ms) => ms > 0);
    return Math.min(isReading ? READING_MS : LOOK_MS, ...ahead);
  }

  function run(): void {
    working = lookAtAll();
  }

  return {
    async start() {
      if (channels.length === 0) return;
      run();
    },
    async stop() {
      stopped = true;
      cancel();
      await working;
    },
  };
}
