import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { AnnouncedEvent } from '../../../src/core/advise/announce.ts';
import type { Severity } from '../../../src/core/model.ts';
import type { NewMessage } from '../../../src/core/notify/queue-port.ts';
import { createNotifyFlow } from '../../../src/daemon/notify/notify-flow.ts';
import { openStore, type Store } from '../../../src/rim/store/store.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { advisoryOf } from '../../fakes/advisories.ts';

const silent = { debug() {}, info() {}, warn() {}, error() {} };
const AT = 1_804_183_200_000;
let stateDir: string;
let store: Store;

const open = () => openStore({ stateDir, now: () => AT, log: silent });

beforeEach(async () => {
  stateDir = mkdtempSync(join(tmpdir(), 'headroomd-messages-'));
  store = await open();
});
afterEach(async () => {
  await store.close();
  rmSync(stateDir, { recursive: true });
});

function news(event: AnnouncedEvent, subject = 'stripe', severity: Severity = 'warning', channel = 'mail'): NewMessage {
  return { channel, event, advisory: advisoryOf(subject, severity), at: AT };
}

const put = (...messages: NewMessage[]) => store.ledger.putAdvisories([], messages);

/** All that waits for a channel, taken out in order. */
async function drain(channel = 'mail', least: Severity = 'notice'): Promise<string[]> {
  const said: string[] = [];
  for (
    let next = await store.messages.next(channel, least);
    next !== null;
    next = await store.messages.next(channel, least)
  ) {
    await store.messages.begin(next.seq);
    await store.messages.end(next.seq, 'sent');
    said.push(`${next.event} ${next.advisory?.subject}`);
  }
  return said;
}

async function handOver(channel = 'mail'): Promise<number> {
  const next = await store.messages.next(channel, 'notice');
  if (next === null) throw new Error('nothing waits');
  await store.messages.begin(next.seq);
  return next.seq;
}

test('each channel keeps its order, and what is more severe may go before', async () => {
  await put(
    news('first', 'a'),
    news('first', 'b', 'critical'),
    news('first', 'c'),
    news('first', 'a', 'warning', 'wall'),
  );
  expect(await drain('mail', 'critical')).toEqual(['first b']);
  expect(await drain()).toEqual(['first a', 'first c']);
  expect(await drain('wall')).toEqual(['first a']);
});

test('of several on one advisory the newest goes, as news to who heard of none', async () => {
  await put(news('first', 'a'), news('first', 'b'));
  await put(news('worse', 'a', 'critical'));
  expect(await drain()).toEqual(['first b', 'first a']);
  await put(news('reminder', 'a', 'critical'));
  expect(await drain()).toEqual(['reminder a']);
});

test('what is over before it was told is not told at all, on that channel', async () => {
  await put(news('first'), news('first', 'stripe', 'warning', 'wall'));
  expect(await drain('wall')).toEqual(['first stripe']);
  await put(news('cleared'), news('cleared', 'stripe', 'warning', 'wall'));
  expect(await drain()).toEqual([]);
  expect(await drain('wall')).toEqual(['cleared stripe']);
  await put(news('cleared', 'stripe', 'warning', 'wall'));
  expect(await drain('wall')).toEqual([]);
});

test('what was handed over may have arrived: that it is over is told, and newer news takes its place', async () => {
  await put(news('first'));
  const seq = await handOver();
  await put(news('cleared'));
  await store.messages.end(seq, 'again');
  expect(await drain()).toEqual(['cleared stripe']);
});

test('what did not go through keeps its place and its number', async () => {
  await put(news('first', 'a'), news('first', 'b'));
  const seq = await handOver();
  await store.messages.end(seq, 'again');
  expect(await store.messages.next('mail', 'notice')).toMatchObject({ seq, advisory: { subject: 'a' } });
  await store.messages.end(seq, 'given-up');
  expect(await drain()).toEqual(['first b']);
});

test('after a restart what was handed over waits again, and other channels are forgotten', async () => {
  await put(news('first', 'a'), news('first', 'b'), news('first', 'a', 'warning', 'gone'));
  const seq = await handOver();
  await store.close();
  store = await open();
  expect(await store.messages.resume(['mail'])).toEqual({ dropped: 1 });
  expect(await store.messages.next('mail', 'notice')).toMatchObject({ seq });
  expect(await drain()).toEqual(['first a', 'first b']);
  expect(await drain('gone')).toEqual([]);
});

test('what somebody wants quiet is not told where it waits; when it speaks again it is news to who was not told', async () => {
  await put(news('first', 'a'), news('first', 'b'), news('first', 'a', 'warning', 'wall'));
  await handOver('wall');
  await store.messages.withdraw([advisoryOf('a').id, 'nobody knows it']);
  expect(await drain()).toEqual(['first b']);
  // What was handed over may have arrived.
  expect(await drain('wall')).toEqual(['first a']);
  await put(news('reminder', 'a'), news('reminder', 'a', 'warning', 'wall'));
  expect(await drain()).toEqual(['first a']);
  expect(await drain('wall')).toEqual(['reminder a']);
  await store.messages.withdraw([]);
});

test('state and messages are kept together', async () => {
  const circular = {
    ...news('first'),
    advisory: { ...advisoryOf('a'), figures: { big: 1n } },
  } as unknown as NewMessage;
  await store.ledger.putAdvisories([{ id: 'before', json: '{}' }], [news('first', 'kept')]);
  await expect(
    store.ledger.putAdvisories([{ id: 'after', json: '{}' }], [news('first', 'b'), circular]),
  ).rejects.toThrow();
  expect(await store.ledger.advisories()).toEqual([{ id: 'before', json: '{}' }]);
  expect(await drain()).toEqual(['first kept']);
});

test('10,000 at once: none is lost, none doubled, in order, and memory stays flat', async () => {
  const many = 10_000;
  const seen = new Set<string>();
  const order: number[] = [];
  const heaps: number[] = [];
  const done = Promise.withResolvers<void>();
  const port = {
    async send({ id, advisory }: { id: string; advisory: { subject: string } | null }) {
      seen.add(id);
      order.push(Number(advisory?.subject.slice(1)));
      if (order.length % 1_000 === 0) {
        globalThis.gc?.();
        heaps.push(process.memoryUsage().heapUsed);
      }
      if (order.length === many) done.resolve();
      return { sent: true } as const;
    },
    async close() {},
  };
  const rule = { name: 'mail', severity: 'notice', quiet: null, quietSeverity: 'critical' } as const;
  const clock = { ...systemClock, now: () => AT };
  const flow = createNotifyFlow({ channels: [{ rule, port }], queue: store.messages, clock, log: silent, zone: 'UTC' });
  await flow.start();
  const announced = Array.from({ length: many }, (_, index) => ({
    event: 'first' as const,
    advisory: advisoryOf(`n${index}`),
  }));
  await store.ledger.putAdvisories([], flow.messagesOf(announced));
  announced.length = 0;
  flow.kept();
  await done.promise;
  await flow.stop();
  expect(seen.size).toBe(many);
  expect(order).toEqual(Array.from({ length: many }, (_, index) => index));
  expect(await store.messages.next('mail', 'notice')).toBeNull();
  // What is sent one after the other needs no more for the last than for the first: 20 MB are noise of the heap here.
  const grown = (heaps.at(-1) ?? 0) - (heaps[0] ?? 0);
  console.info(
    `heap at 1,000 ${((heaps[0] ?? 0) / 1e6).toFixed(1)} MB, at 10,000 ${((heaps.at(-1) ?? 0) / 1e6).toFixed(1)} MB`,
  );
  expect(grown).toBeLessThan(20e6);
});
