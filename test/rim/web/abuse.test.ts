import { get } from 'node:http';
import { connect, type Socket } from 'node:net';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { createAsset } from '../../../src/rim/web/assets.ts';
import { type Door, openPageDoor } from '../../../src/rim/web/doors.ts';
import { createLive, type Live } from '../../../src/rim/web/live.ts';
import type { PageSource } from '../../../src/rim/web/page-routes.ts';
import { cookieName } from '../../../src/rim/web/routes.ts';

/* What another user of the machine can do to the port, who has no token. */

const token = 'ab'.repeat(32);
const cookie = { cookie: `${cookieName(token)}=${token}` };
const source = { page: () => 'the page', snapshot: () => ({}) } as unknown as PageSource;
let door: Door & { address: string };
let live: Live;
let port: number;
let sockets: Socket[];

beforeEach(async () => {
  live = createLive(() => ({ version: '', title: '', when: '', sections: [] }));
  const empty = createAsset(Buffer.alloc(0), 'text/plain');
  door = await openPageDoor(0, token, source, { script: empty, style: empty, live, openMetrics: false });
  port = Number(new URL(door.address).port);
  sockets = [];
});
afterEach(async () => {
  for (const socket of sockets) socket.destroy();
  live.close();
  await door.close();
});

function raw(first: string): Socket {
  const socket = connect(port, '127.0.0.1');
  socket.on('error', () => {}).resume();
  socket.write(first);
  sockets.push(socket);
  return socket;
}

function ask(path: string, headers: Record<string, string> = cookie): Promise<number> {
  return new Promise((resolve, reject) => {
    get({ host: '127.0.0.1', port, path, headers, agent: false }, (response) => {
      response.resume();
      resolve(response.statusCode ?? 0);
    }).on('error', reject);
  });
}

async function answersAgain(seconds: number): Promise<boolean> {
  const end = performance.now() + seconds * 1000;
  while (performance.now() < end) {
    if ((await ask('/').catch(() => 0)) === 200) return true;
    await sleep(200);
  }
  return false;
}

test('1,000 connections that send their headers by drops are let go, and the page answers again', async () => {
  for (let count = 0; count < 1000; count++) raw('GET / HTTP/1.1\r\nHost: ');
  const drops = setInterval(() => {
    for (const socket of sockets) if (!socket.destroyed) socket.write('x');
  }, 1000);
  const heap = process.memoryUsage().heapUsed;
  try {
    expect(await answersAgain(30)).toBe(true);
  } finally {
    clearInterval(drops);
  }
  expect(process.memoryUsage().heapUsed - heap).toBeLessThan(60e6);
});

test('huge headers are refused', async () => {
  const socket = raw(`GET / HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nX-Large: ${'y'.repeat(200_000)}\r\n\r\n`);
  let told = '';
  socket.on('data', (chunk) => {
    told += chunk;
  });
  await new Promise((resolve) => socket.once('close', resolve));
  expect(told).toMatch(/^(HTTP\/1\.1 431 |$)/);
  expect(await ask('/')).toBe(200);
});

test('no path leads anywhere else', async () => {
  const paths = [
    ...[
      '/../../etc/passwd',
      '/..%2f..%2fetc%2fpasswd',
      '/%2e%2e/%2e%2e/etc/passwd',
      '//etc/passwd',
      '/page.js/../../package.json',
    ],
    ...['/\\..\\..\\x', '/%00', '/page.js%00.css', '/.', '/api/../api/snapshot%20', `/${'a/'.repeat(4000)}`],
  ];
  for (const path of paths) expect([400, 404, 414, 431], path.slice(0, 60)).toContain(await ask(path));
  expect(await ask('/')).toBe(200);
});

test('streams that are opened and left leave nothing behind', async () => {
  for (let round = 0; round < 10; round++) {
    const open = Array.from({ length: 30 }, () =>
      raw(`GET /api/live HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nCookie: ${cookie.cookie}\r\n\r\n`),
    );
    for (let tries = 0; tries < 100 && live.count() < 30; tries++) await sleep(10);
    expect(live.count()).toBe(30);
    for (const socket of open) socket.destroy();
    for (let tries = 0; tries < 100 && live.count() > 0; tries++) await sleep(10);
    expect(live.count()).toBe(0);
  }
});

test('a stream needs the token as everything does', async () => {
  expect(await ask('/api/live', {})).toBe(403);
  expect(await ask('/api/live', { ...cookie, host: 'example.org' })).toBe(421);
});
