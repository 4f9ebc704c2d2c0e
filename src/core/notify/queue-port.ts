import type { Advisory } from '../advise/advisory.ts';
import type { AnnouncedEvent } from '../advise/announce.ts';
import type { Instant, Severity } from '../model.ts';

/** An announcement that one channel is to be told of. */
export interface NewMessage {
  channel: string;
  event: AnnouncedEvent;
  /** As it was announced; nothing in it is escaped yet. */
  advisory: Advisory;
  at: Instant;
}

/** The report of one day, as one channel is to be sent it: its words stay as they were made, however often it is tried. */
export interface ReportMessage {
  channel: string;
  event: 'report';
  advisory: null;
  /** By the clocks of the place: `2027-03-05`. */
  day: string;
  /** Up to when it tells. */
  until: Instant;
  /** Escaped, as the text is. */
  title: string;
  text: string;
  at: Instant;
}

/** One that waits, with its place in the order of its channel. */
export type QueuedMessage = (NewMessage | ReportMessage) & { seq: number };

/** What became of a try: answered, to be tried again, or given up. */
export type TryEnd = 'sent' | 'again' | 'given-up';

/**
 * What channels are still to be told, in the ledger. It is filled with the state of the advisories, in one transaction
 * (`LedgerPort.putAdvisories`): neither is kept without the other.
 *
 * Of messages on one advisory that a channel was not handed yet only the newest is kept. One that says an advisory is over
 * is kept only where the channel was handed a message on it before: else both are dropped.
 */
export interface MessageQueuePort {
  /** After a start: what was handed over without an answer waits again; what is for other channels than these is dropped. */
  resume(channels: readonly string[]): Promise<{ dropped: number }>;
  /** The first message of a channel that is at least so severe; `null`: none waits. */
  next(channel: string, least: Severity): Promise<QueuedMessage | null>;
  /** It is handed over now. Durable before it is sent: whoever starts after a crash knows that it may have arrived. */
  begin(seq: number): Promise<void>;
  end(seq: number, end: TryEnd): Promise<void>;
  /** Somebody wants quiet about these: what no channel was handed yet is not told. */
  withdraw(advisories: readonly string[]): Promise<void>;
}

/** Which reports there were, in the ledger: one for each channel and day, whatever the clocks did and however often it was started. */
export interface ReportQueuePort {
  /** `isMade`: that of this day was put. `sentUntil`: up to when the last one before `now` that was sent tells; `null`: none was. */
  reportsOf(channel: string, day: string, now: Instant): Promise<{ isMade: boolean; sentUntil: Instant | null }>;
  /** A channel without any has its first after this day; of one that had some nothing changes. */
  beginReports(channel: string, day: string, now: Instant): Promise<void>;
  /**
   * Puts it into the queue of its channel, in the place of an earlier one that was not sent, and notes its day, both or neither.
   * False: there is one of that day.
   */
  putReport(report: ReportMessage): Promise<boolean>;
}

/** What whoever announces hands its announcements to. */
export interface Announcer {
  /** What channels are to be told of it. To be kept with the state of the advisories. */
  messagesOf(announced: readonly Pick<NewMessage, 'event' | 'advisory'>[]): NewMessage[];
  /** They are in the ledger. */
  kept(): void;
  /** The ledger refuses. They are sent from memory, as far as there is room. */
  unkept(messages: readonly NewMessage[]): void;
  /** Somebody wants quiet about these: what of them waits is not told. Never rejects. */
  withdraw(advisories: readonly string[]): Promise<void>;
}
