import { expect, test } from 'vitest';
import { loopsHealth } from '../../../src/core/health.ts';
import type { Severity } from '../../../src/core/model.ts';
import { type ChannelRule, rankOf } from '../../../src/core/notify/delivery.ts';
import type { MessageQueuePort, NewMessage, QueuedMessage } from '../../../src/core/notify/queue-port.ts';
import { createLoopMarks } from '../../../src/daemon/loop-marks.ts';
import { createNotifyFlow } from '../../../src/daemon/notify/notify-flow.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { fakeChannel } from '../../fakes/channel.ts';
import { fakeClock } from '../../fakes/clock.ts';

const SECOND = 1_000;
const noon = Temporal.Instant.from('2027-03-04T12:00:00Z').epochMilliseconds;

/** A queue in memory that keeps order, and nothing else of what the ledger does. */
function simpleQueue() {
  const rows: QueuedMessage[] = [];
  let refuses = false;
  let seq = 0;
  const queue: MessageQueuePort = {
    resume: async () => ({ dropped: 0 }),
    async next(channel, least) {
      if (refuses) throw new Error('The disk of the state is full.');
      const fits = ({ advisory }: QueuedMessage) => rankOf(advisory?.severity ?? 'critical') >= rankOf(least);
      return rows.find((row) => row.channel === channel && fits(row)) ?? null;
    },
    begin: async () => {},
    async end(number, end) {
      const at = rows.findIndex((row) => row.seq === number);
      if (end !== 'again' && at >= 0) rows.splice(at, 1);
    },
    async withdraw(advisories) {
      if (refuses) throw new Error('The disk of the state is full.');
      for (const row of rows.filter(({ advisory }) => advisory !== null && advisories.includes(advisory.id)))
        rows.splice(rows.indexOf(row), 1);
    },
  };
  return {
    queue,
    put: (messages: NewMessage[]) => rows.push(...messages.map((message) => ({ ...message, seq: ++seq }))),
    refuse: (now: boolean) => {
      refuses = now;
    },
    left: () => rows.length,
  };
}

async function stage(more: Partial<ChannelRule> = {}) {
  const clock = fakeClock(noon);
  const kept = simpleQueue();
  const lines: string[] = [];
  const at = (level: string) => (_fields: object, text: string) => void lines.push(`${level} ${text}`);
  const log = { debug() {}, info: at('info'), warn: at('warn'), error: at('error') };
  const channel = fakeChannel();
  const other = fakeChannel();
  const rule: ChannelRule = { name: 'gallery', severity: 'warning', quiet: null, quietSeverity: 'critical', ...more };
  const channels = [
    { rule, port: channel },
    { rule: { ...rule, name: 'wall' }, port: other },
  ];
  const marks = createLoopMarks(clock);
  const markOf = (of: string) => marks.line({ loop: 'channel', of, patienceMs: 60 * SECOND });
  const flow = createNotifyFlow({ channels, queue: kept.queue, clock, log, zone: 'UTC', markOf });
  await flow.start();
  await clock.advance(0);
  const announce = async (subject: string, severity: Severity = 'warning') => {
    const messages = flow.messagesOf([{ event: 'first', advisory: advisoryOf(subject, severity) }]);
    kept.put(messages);
    flow.kept();
    await clock.advance(0);
    return messages;
  };
  const arrived = () => channel.arrived.map(({ advisory }) => advisory?.subject);
  const still = () =>
    loopsHealth(marks.all(), { ticks: clock.ticks(), now: clock.now() }).flatMap(({ of, standsStill }) =>
      standsStill ? [of] : [],
    );
  return { ...{ clock, kept, lines, channel, other, flow, announce, arrived, still } };
}

test('each channel is told what it asked for', async () => {
  const { announce, arrived, other } = await stage();
  expect(await announce('a', 'notice')).toEqual([]);
  await announce('b');
  expect(arrived()).toEqual(['b']);
  expect(other.arrived).toHaveLength(1);
});

test('a channel that does not answer is told once, tried after 5, 10, 20 s, and told when it works again', async () => {
  const { announce, arrived, channel, other, clock, lines, kept } = await stage();
  channel.answers({ sent: false, retry: true, message: 'Nothing listens.' });
  await announce('a');
  await announce('b');
  expect(arrived()).toEqual(['a']);
  await clock.advance(4.9 * SECOND);
  expect(arrived()).toHaveLength(1);
  await clock.advance(0.2 * SECOND);
  expect(arrived()).toHaveLength(2);
  await clock.advance(10 * SECOND);
  expect(arrived()).toHaveLength(3);
  // The other one has long been told all.
  expect(other.arrived).toHaveLength(2);
  channel.answers({ sent: true });
  await clock.advance(20 * SECOND);
  expect(arrived()).toEqual(['a', 'a', 'a', 'a', 'b']);
  expect(new Set(channel.arrived.slice(0, 4).map(({ id }) => id)).size).toBe(1);
  expect(lines).toEqual([
    'warn gallery cannot be told: Nothing listens. What is to be told waits, and is tried again.',
    'info gallery can be told again.',
  ]);
  expect(kept.left()).toBe(0);
});

test('a channel that is never through with a message stands still; one that is refused, or has none, does not', async () => {
  const { announce, channel, other, clock, still, flow } = await stage();
  channel.answers('never');
  other.answers({ sent: false, retry: true, message: 'Nothing listens.' });
  await clock.advance(600 * SECOND);
  expect(still()).toEqual([]);
  await announce('a');
  await clock.advance(60 * SECOND);
  expect(still()).toEqual([]);
  await clock.advance(SECOND);
  expect(still()).toEqual(['gallery']);
  const stopping = flow.stop();
  await clock.advance(SECOND);
  await stopping;
  expect(still()).toEqual([]);
});

test('what is refused is given up and told, and the next goes', async () => {
  const { announce, channel, arrived, lines, kept } = await stage();
  channel.answers({ sent: false, retry: false, message: 'It answered with status 404.' });
  await announce('a');
  channel.answers({ sent: true });
  await announce('b');
  expect(arrived()).toEqual(['a', 'b']);
  expect(kept.left()).toBe(0);
  expect(lines).toEqual([
    'error gallery: It answered with status 404. Not told, and given up: Warning: a has 7.34 MB left above nothing.',
  ]);
});

test('what somebody wants quiet is taken back where it waits, in the ledger and in memory', async () => {
  const { announce, channel, other, clock, flow, arrived, kept, lines } = await stage();
  channel.answers({ sent: false, retry: true, message: 'Nothing listens.' });
  await announce('a');
  await announce('b');
  kept.refuse(true);
  flow.unkept(flow.messagesOf([{ event: 'first', advisory: advisoryOf('c') }]));
  await clock.advance(0);
  await flow.withdraw([advisoryOf('b').id, advisoryOf('c').id]);
  expect(lines.at(-1)).toMatch(
    /^warn What waits .* could not be taken back, and is told: The disk of the state is full\.$/,
  );
  kept.refuse(false);
  await flow.withdraw([advisoryOf('b').id]);
  channel.answers({ sent: true });
  await clock.advance(900 * SECOND);
  expect(arrived().at(-1)).toBe('a');
  expect(arrived()).not.toContain('b');
  expect(arrived()).not.toContain('c');
  // It had been told all at once.
  expect(other.arrived.map(({ advisory }) => advisory?.subject)).toEqual(['a', 'b', 'c']);
});

test('what could not be told for a day is given up and told', async () => {
  const { announce, channel, clock, lines, kept } = await stage();
  channel.answers({ sent: false, retry: true, message: 'Nothing listens.' });
  await announce('a');
  await clock.advance(86_400_000 + 900 * SECOND);
  expect(kept.left()).toBe(0);
  expect(lines.at(-1)).toMatch(/^error gallery: could not be told within a day, and is given up: Warning: a /);
});

test('in quiet hours what is critical goes, and the rest when they end', async () => {
  const { announce, arrived, clock } = await stage({ quiet: { from: 11 * 60, until: 12 * 60 + 30 } });
  await announce('a');
  await announce('b', 'critical');
  expect(arrived()).toEqual(['b']);
  await clock.advance(29 * 60 * SECOND);
  expect(arrived()).toEqual(['b']);
  await clock.advance(61 * SECOND);
  expect(arrived()).toEqual(['b', 'a']);
});

test('what the ledger refuses to keep is sent all the same, the newest of each advisory', async () => {
  const { flow, kept, clock, arrived, lines } = await stage();
  kept.refuse(true);
  const messages = flow.messagesOf([{ event: 'first', advisory: advisoryOf('state') }]);
  flow.unkept(messages);
  await clock.advance(0);
  expect(arrived()).toEqual(['state']);
  expect(lines.filter((line) => line.includes('cannot be read or noted'))).toHaveLength(2);
  kept.refuse(false);
  kept.put(flow.messagesOf([{ event: 'first', advisory: advisoryOf('later') }]));
  await clock.advance(6 * SECOND);
  expect(arrived()).toEqual(['state', 'later']);
});

test('stopping ends what is being sent, and leaves it in the queue', async () => {
  const { flow, announce, channel, clock, kept, arrived } = await stage();
  channel.answers('never');
  await announce('a');
  const stopping = flow.stop();
  await clock.advance(1 * SECOND);
  await stopping;
  expect(arrived()).toEqual(['a']);
  expect(kept.left()).toBe(1);
  flow.kept();
  await clock.advance(60 * SECOND);
  expect(arrived()).toEqual(['a']);
});
