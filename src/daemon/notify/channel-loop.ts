import { messageOf } from '../../core/fault.ts';
import type { Severity } from '../../core/model.ts';
import type { ChannelMessage, ChannelPort } from '../../core/notify/channel-port.ts';
import { afterTry, type ChannelRule, isInTime, openTo, pauseAfter } from '../../core/notify/delivery.ts';
import { messageFor } from '../../core/notify/message.ts';
import type { MessageQueuePort, NewMessage } from '../../core/notify/queue-port.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { type LineMark, NO_MARK } from '../loop-marks.ts';
import { createUnkept } from './unkept.ts';

export interface ChannelLoopDeps {
  rule: ChannelRule;
  port: ChannelPort;
  queue: MessageQueuePort;
  clock: Clock;
  log: Log;
  zone: string;
  /** Touched with every message that it was tried to tell. */
  mark?: LineMark;
}

export interface ChannelLoop {
  start(): void;
  /** There may be something to send. Cheap. */
  wake(): void;
  /** To be told, though the ledger refuses to keep it. */
  addUnkept(message: NewMessage): void;
  dropUnkept(advisories: readonly string[]): void;
  stop(): Promise<void>;
}

/** What is being sent has so long to end by itself when all is stopped. */
const graceMs = 500;

/** The wall clock may be set: whoever waits for an hour of it looks so often at the least. */
const longestWaitMs = 60_000;

/** One channel's messages, one after the other, in their order. */
export function createChannelLoop(deps: ChannelLoopDeps): ChannelLoop {
  const { rule, port, queue, clock, log, mark = NO_MARK } = deps;
  const unkept = createUnkept();
  const fields = { channel: rule.name };
  const shown = display(rule.name);
  let failures = 0;
  let running: Promise<void> | null = null;
  let again = false;
  let stopped = false;
  let cancel = () => {};
  let isQueueTold = false;

  /** Sends all that goes now; how long to wait until more may (ms), `null`: until something comes. */
  async function sendAll(): Promise<number | null> {
    while (!stopped) {
      again = false;
      const open = openTo(rule, deps.zone, clock.now());
      const found = await first(open.least);
      if (found === null) return open.until === null ? null : Math.min(longestWaitMs, open.until - clock.now());
      if (!(await deliver(found))) return pauseAfter(failures);
      mark.moved();
    }
    return null;
  }

  /** What the ledger does not hold goes first: it is about the ledger itself as a rule. */
  async function first(least: Severity): Promise<Found | null> {
    const own = unkept.first(least);
    if (own !== null)
      return { ...own, begin: async () => {}, end: async (end) => void (end === 'again' || own.remove()) };
    const row = await queue.next(rule.name, least);
    if (row === null) return null;
    const message = messageFor(row, `${row.at}-${row.seq}`, deps.zone);
    return { message, begin: () => queue.begin(row.seq), end: (end) => queue.end(row.seq, end) };
  }

  /** False: it is to be tried again later. */
  async function deliver({ message, begin, end }: Found): Promise<boolean> {
    if (!isInTime(message.at, clock.now()).inTime) {
      log.error(
        { ...fields, message: message.id, reason: 'too-old' },
        `${shown}: could not be told within a day, and is given up: ${message.title}`,
      );
      await end('given-up');
      return true;
    }
    await begin();
    const outcome = await port.send(message);
    const { end: how, reason } = afterTry(outcome);
    log.debug({ ...fields, message: message.id, event: message.event, reason }, 'tried');
    await end(how);
    if (outcome.sent) tellWorks();
    else if (how === 'again') tellFails(outcome.message);
    else
      log.error(
        { ...fields, message: message.id, reason },
        `${shown}: ${outcome.message} Not told, and given up: ${message.title}`,
      );
    return how !== 'again';
  }

  function tellFails(why: string): void {
    failures += 1;
    if (failures > 1 || stopped) return;
    log.warn(
      { ...fields, error: why },
      `${shown} cannot be told: ${why} What is to be told waits, and is tried again.`,
    );
  }

  function tellWorks(): void {
    if (failures > 0) log.info(fields, `${shown} can be told again.`);
    failures = 0;
  }

  async function round(): Promise<void> {
    let pause: number | null;
    try {
      pause = await sendAll();
      isQueueTold = false;
    } catch (error) {
      if (!isQueueTold)
        log.error(
          { ...fields, error: messageOf(error) },
          `${shown}: what is to be told cannot be read or noted: ${messageOf(error)}`,
        );
      isQueueTold = true;
      pause = pauseAfter(1);
    }
    running = null;
    if (stopped) return;
    // What came meanwhile must not hurry a channel that does not answer.
    if (again && failures === 0 && !isQueueTold) return run();
    if (pause !== null) cancel = clock.after(Math.max(1, pause), run);
    waiting = pause !== null && (failures > 0 || isQueueTold);
  }

  let waiting = false;
  function run(): void {
    waiting = false;
    mark.begins();
    running = round().finally(mark.ends);
  }

  return {
    start: run,
    wake() {
      again = true;
      if (stopped || running !== null || waiting) return;
      cancel();
      run();
    },
    addUnkept(message) {
      unkept.add(message, deps.zone);
      this.wake();
    },
    dropUnkept: unkept.drop,
    async stop() {
      stopped = true;
      cancel();
      const ended = running ?? Promise.resolve();
      const late = Promise.withResolvers<void>();
      const cancelLate = clock.after(graceMs, late.resolve);
      await Promise.race([ended, late.promise]);
      cancelLate();
      await port.close();
      await ended;
    },
  };
}

interface Found {
  message: ChannelMessage;
  begin(): Promise<void>;
  end(end: 'sent' | 'again' | 'given-up'): Promise<void>;
}
