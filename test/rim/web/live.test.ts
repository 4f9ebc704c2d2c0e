import { createServer, get, type IncomingMessage, type Server } from 'node:http';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { PageChange, PageState } from '../../../src/core/present/html/block.ts';
import { createLive, type Live } from '../../../src/rim/web/live.ts';

let server: Server;
let live: Live;
let now: PageState;
let made: number;

const stateOf = (html: string): PageState => ({
  ...{ version: '1', title: 'stripe', when: 'as of now' },
  sections: [{ id: 'speed', title: 'Speed', blocks: [{ key: 'speed:stripe', html }] }],
});

beforeEach(async () => {
  now = stateOf('one');
  made = 0;
  live = createLive(() => {
    made += 1;
    return now;
  });
  server = createServer((_request, response) => {
    if (!live.add(response)) response.writeHead(503).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
});
afterEach(async () => {
  live.close();
  server.closeAllConnections();
  await new Promise((resolve) => server.close(resolve));
});

interface Heard {
  status: number;
  events: PageChange[];
  response: IncomingMessage;
}

function listen(): Promise<Heard> {
  const address = server.address();
  const port = typeof address === 'object' && address !== null ? address.port : 0;
  return new Promise((resolve, reject) => {
    const asked = get({ host: '127.0.0.1', port, path: '/', agent: false }, (response) => {
      const heard: Heard = { status: response.statusCode ?? 0, events: [], response };
      let text = '';
      response.on('error', () => {});
      response.on('data', (chunk) => {
        text += chunk;
        const parts = text.split('\n\n');
        text = parts.pop() ?? '';
        for (const part of parts) {
          const data = /^data: (.*)$/m.exec(part)?.[1];
          if (/^event: page$/m.test(part) && data !== undefined) heard.events.push(JSON.parse(data));
        }
      });
      resolve(heard);
    });
    asked.on('error', reject);
  });
}

async function until(what: string, holds: () => boolean): Promise<void> {
  for (let tries = 0; tries < 200; tries++) {
    if (holds()) return;
    await sleep(25);
  }
  throw new Error(`not in time: ${what}`);
}

describe('an open page', () => {
  test('gets all at first, then only what is other', async () => {
    const heard = await listen();
    await until('the first state', () => heard.events.length === 1);
    expect(heard.response.headers['content-type']).toBe('text/event-stream; charset=utf-8');
    expect(Object.keys(heard.events[0]?.blocks ?? {})).toEqual(['speed:stripe']);
    now = stateOf('two');
    live.noted();
    await until('the change', () => heard.events.length === 2);
    expect(heard.events[1]?.blocks['speed:stripe']?.html).toBe('two');
    expect(heard.events[1]?.orders).toEqual({});
    heard.response.destroy();
    await until('that it is gone is noticed', () => live.count() === 0);
  });

  test('a burst of 50,000 changes is one or two a second', async () => {
    const heard = await listen();
    await until('the first state', () => heard.events.length === 1);
    const before = made;
    for (let change = 0; change < 50_000; change++) {
      now = stateOf(`change ${change}`);
      live.noted();
    }
    await until('the newest', () => heard.events.at(-1)?.blocks['speed:stripe']?.html === 'change 49999');
    expect(heard.events.length).toBe(2);
    expect(made - before).toBe(1);
  });

  test('one that takes nothing misses states in between and nothing of the newest; what waits for it stays small', async () => {
    const heard = await listen();
    await until('the first state', () => heard.events.length === 1);
    heard.response.pause();
    const large = 'x'.repeat(4_000_000);
    for (let change = 0; change < 4; change++) {
      now = stateOf(`${large} ${change}`);
      live.noted();
      await sleep(1100);
    }
    heard.response.resume();
    await until('the newest', () => heard.events.at(-1)?.blocks['speed:stripe']?.html.endsWith(' 3') === true);
    expect(heard.events.length).toBeLessThan(5);
  });
});

test('without any open page nothing is worked out', async () => {
  for (let change = 0; change < 100; change++) live.noted();
  await sleep(1100);
  expect(made).toBe(0);
});

test('more than a few dozen pages are told to come back, and those that went make room', async () => {
  const all = await Promise.all(Array.from({ length: 40 }, listen));
  expect(all.filter(({ status }) => status === 200)).toHaveLength(32);
  expect(all.filter(({ status }) => status === 503)).toHaveLength(8);
  for (const { response } of all) response.destroy();
  await until('room', () => live.count() === 0);
  expect((await listen()).status).toBe(200);
});
