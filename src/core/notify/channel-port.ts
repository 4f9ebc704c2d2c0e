import type { Advisory } from '../advise/advisory.ts';
import type { Instant } from '../model.ts';

/** What a message is about: an advisory's event, the morning report, or a marked test message. */
export type MessageEvent = 'first' | 'worse' | 'cleared' | 'reminder' | 'report' | 'test';

/** One message for one channel. Everything in it was escaped for display. */
export interface ChannelMessage {
  /** Stable over retries and restarts: a receiver can tell a repeated delivery by it. */
  id: string;
  event: MessageEvent;
  /** The advisory as it was when the message was made; `null` for a report or a test. */
  advisory: Advisory | null;
  /** One line. */
  title: string;
  /** Plain text: what, where, how much, since when, what to do. */
  text: string;
  at: Instant;
}

/** What became of one try. */
export type SendOutcome =
  | { sent: true }
  /** `retry`: the same message may go through later. `message` is for a person, and holds no secret. */
  | { sent: false; retry: boolean; message: string };

/** One channel. Never throws, ends within its own time-out, and never sends the same call twice. */
export interface ChannelPort {
  send(message: ChannelMessage): Promise<SendOutcome>;
  close(): Promise<void>;
}
