import { mkdtempSync, rmSync } from 'node:fs';
import { createServer as createPlainServer } from 'node:http';
import { type AddressInfo, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { SMTPServer } from 'smtp-server';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { Advisory } from '../../../src/core/advise/advisory.ts';
import type { Severity } from '../../../src/core/model.ts';
import type { ChannelPort } from '../../../src/core/notify/channel-port.ts';
import type { Clock } from '../../../src/core/ports.ts';
import { createNotifyFlow, type NotifyFlow } from '../../../src/daemon/notify/notify-flow.ts';
import { desktopChannel } from '../../../src/rim/notify/desktop.ts';
import { mailChannel } from '../../../src/rim/notify/mail.ts';
import { webhookChannel } from '../../../src/rim/notify/webhook.ts';
import { openStore, type Store } from '../../../src/rim/store/store.ts';
import { systemClock } from '../../../src/rim/system/clock.ts';
import { effort } from '../../effort.ts';
import { advisoryOf } from '../../fakes/advisories.ts';
import { cuttingProxy } from '../../rim/notify/cutting-proxy.ts';
import { desktopSession } from '../../rim/notify/desktop-session.ts';

const silent = { debug() {}, info() {}, warn() {}, error() {} };
/** All go to one channel that answers at once; a mail is a connection, and a bubble two programs: of these every so many. */
const MANY = 10_000;
const EACH_MAIL = effort > 1 ? 1 : 10;
const EACH_BUBBLE = 200;
const place = { host: 'edit-1', zone: 'UTC' };

/** The real one, but that whoever waits to try again waits a hundredth of the time. */
const hasty: Clock = { ...systemClock, after: (ms, run) => systemClock.after(Math.min(ms, ms / 100 + 1), run) };

let stateDir: string;
let store: Store;
const closing: (() => Promise<unknown> | unknown)[] = [];

beforeEach(async () => {
  stateDir = mkdtempSync(join(tmpdir(), 'headroomd-channels-'));
  store = await openStore({ stateDir, now: Date.now, log: silent });
});
afterEach(async () => {
  for (const close of closing.splice(0).reverse()) await close();
  await store.close();
  rmSync(stateDir, { recursive: true });
});

/** Announces all of it at once, through the ledger, as a pass of the assessment does. */
async function announceTo(ports: Record<string, [ChannelPort, Severity]>, advisories: Advisory[]) {
  const channels = Object.entries(ports).map(([name, [port, severity]]) => ({
    port,
    rule: { name, severity, quiet: null, quietSeverity: 'critical' as const },
  }));
  const flow: NotifyFlow = createNotifyFlow({
    channels,
    queue: store.messages,
    clock: hasty,
    log: silent,
    zone: 'UTC',
  });
  closing.push(() => flow.stop());
  await flow.start();
  const messages = flow.messagesOf(advisories.map((advisory) => ({ event: 'first', advisory })));
  await store.ledger.putAdvisories([], messages);
  flow.kept();
}

async function until(
  what: string,
  holds: () => boolean,
  seconds: number,
  seen: () => unknown = () => '',
): Promise<void> {
  const end = performance.now() + seconds * 1000;
  while (!holds()) {
    if (performance.now() > end) throw new Error(`not within ${seconds} s: ${what} ${seen()}`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

/** An SMTP server that keeps of each whole message its subject line, told in its order. */
async function subjects(): Promise<{ port: number; told: string[]; onTold: (count: number) => void }> {
  const told: string[] = [];
  const box = { port: 0, told, onTold: (_count: number) => {} };
  const server = new SMTPServer({
    ...{ authOptional: true, disableReverseLookup: true, closeTimeout: 100, disabledCommands: ['AUTH', 'STARTTLS'] },
    onData(stream, _session, done) {
      let text = '';
      stream.on('data', (chunk: Buffer) => {
        text += chunk.toString('latin1');
      });
      stream.on('end', () => {
        told.push(/clip-\d+/.exec(text)?.[0] ?? text);
        box.onTold(told.length);
        done();
      });
    },
  });
  server.on('error', () => {});
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  closing.push(() => new Promise<void>((resolve) => server.close(() => resolve())));
  box.port = (server.server.address() as AddressInfo).port;
  return box;
}

const mailTo = (port: number) =>
  mailChannel({
    ...{ server: { host: '127.0.0.1', port }, security: 'none', login: null, ca: null, stepMs: 10_000 },
    ...{ host: 'edit-1', from: 'headroomd@example.org', to: ['edit@example.org'] },
  });

function collected(): number {
  setFlagsFromString('--expose-gc');
  runInNewContext('gc')();
  return process.memoryUsage().heapUsed;
}

const names = (count: number) => Array.from({ length: count }, (_, index) => `clip-${index}`);

test('ten thousand at once: none lost, none doubled, in their order, and memory does not grow with them', {
  timeout: 600_000,
}, async () => {
  const session = await desktopSession();
  closing.push(session.end);
  await session.startService();
  const server = await subjects();
  const heap: number[] = [];
  const shown: string[] = [];
  const wall: ChannelPort = {
    async send({ advisory }) {
      shown.push(advisory?.subject ?? '');
      if (shown.length % 2_500 === 0) heap.push(collected());
      return { sent: true };
    },
    async close() {},
  };
  const severityOf = (index: number): Severity =>
    index % EACH_BUBBLE === 0 ? 'critical' : index % EACH_MAIL === 0 ? 'warning' : 'notice';
  const began = performance.now();
  await announceTo(
    {
      wall: [wall, 'notice'],
      mail: [mailTo(server.port), 'warning'],
      desktop: [desktopChannel({ env: session.env, wholeMs: 10_000 }), 'critical'],
    },
    names(MANY).map((name, index) => advisoryOf(name, severityOf(index))),
  );
  const mails = names(MANY).filter((_, index) => index % EACH_MAIL === 0);
  const bubbles = names(MANY).filter((_, index) => index % EACH_BUBBLE === 0);
  const areAll = () => [shown.length, server.told.length, session.shown().length];
  const all = [MANY, mails.length, bubbles.length];
  await until('all are told', () => areAll().every((count, index) => count >= (all[index] ?? 0)), 580, areAll);
  console.log(
    `${all.join(', ')} messages in ${((performance.now() - began) / 1000).toFixed(1)} s; heap ${heap.map((bytes) => (bytes / 1e6).toFixed(1)).join(', ')} MB`,
  );
  // One that was sent twice would come right behind.
  await new Promise((resolve) => setTimeout(resolve, 200));
  expect(shown).toEqual(names(MANY));
  expect(server.told).toEqual(mails);
  expect(session.shown().map(({ summary }) => /clip-\d+/.exec(summary)?.[0])).toEqual(bubbles);
  // What is kept here of each message is a name: some 100 bytes.
  expect((heap.at(-1) ?? 0) - (heap[0] ?? 0)).toBeLessThan(8e6);
});

test('a mail that is cut in its middle is sent again, and comes once', async () => {
  const server = await subjects();
  // The greeting, two addresses and the header are some 700 bytes.
  const proxy = await cuttingProxy(server.port, { after: 900, times: 2 });
  closing.push(proxy.close);
  const long = { ...advisoryOf('clip-0'), message: `clip-0 ${'is not whole. '.repeat(400)}` };
  await announceTo({ mail: [mailTo(proxy.port), 'warning'] }, [long, advisoryOf('clip-1')]);
  await until('both are there', () => server.told.length >= 2, 30);
  await new Promise((resolve) => setTimeout(resolve, 300));
  expect(server.told).toEqual(['clip-0', 'clip-1']);
  expect(proxy.cuts()).toBe(2);
});

test('a webhook that is cut in its middle is called again, and told once', async () => {
  const told: string[] = [];
  const server = createPlainServer(async (request, response) => {
    let body = '';
    try {
      for await (const chunk of request) body += chunk;
    } catch {
      // Cut: nothing was told.
      return;
    }
    told.push(JSON.parse(body).advisory.subject);
    response.writeHead(204).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  closing.push(() => new Promise((resolve) => server.close(resolve)));
  const proxy = await cuttingProxy((server.address() as AddressInfo).port, { after: 600, times: 2 });
  closing.push(proxy.close);
  const hook = webhookChannel({
    ...{
      url: `http://127.0.0.1:${proxy.port}/told`,
      secret: null,
      ca: null,
      allowPrivate: true,
      now: () => 0,
      ...place,
    },
    ...{ connectMs: 5_000, wholeMs: 10_000 },
  });
  const long = { ...advisoryOf('clip-0'), message: `clip-0 ${'is not whole. '.repeat(400)}` };
  await announceTo({ gallery: [hook, 'warning'] }, [long, advisoryOf('clip-1')]);
  await until('both are there', () => told.length >= 2, 30);
  await new Promise((resolve) => setTimeout(resolve, 300));
  expect(told).toEqual(['clip-0', 'clip-1']);
  expect(proxy.cuts()).toBe(2);
});

test('a bus that takes the call and never answers ends in its time, and others are told meanwhile', async () => {
  const path = join(stateDir, 'bus');
  const bus = createServer((socket) => socket.on('error', () => {}).resume());
  await new Promise<void>((resolve) => bus.listen(path, resolve));
  closing.push(() => new Promise((resolve) => bus.close(resolve)));
  const env = { PATH: process.env['PATH'], DBUS_SESSION_BUS_ADDRESS: `unix:path=${path}` };
  const server = await subjects();
  const desktop = desktopChannel({ env, wholeMs: 1_000 });
  const outcomes: string[] = [];
  const watched: ChannelPort = {
    close: desktop.close,
    async send(message) {
      const outcome = await desktop.send(message);
      outcomes.push(outcome.sent ? 'sent' : outcome.message);
      return outcome;
    },
  };
  await announceTo(
    { desktop: [watched, 'warning'], mail: [mailTo(server.port), 'warning'] },
    names(20).map((name) => advisoryOf(name)),
  );
  await until('all mails are there', () => server.told.length >= 20, 30);
  await until('the bus was given up', () => outcomes.length > 0, 30);
  expect(server.told).toEqual(names(20));
  expect(outcomes[0]).toBe('The notification service did not answer in time.');
});
