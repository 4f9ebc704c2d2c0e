import { existsSync, mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { connect, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { askDaemon, tellDaemon } from '../../../src/rim/web/ask.ts';
import { type Door, openControlDoor, openPageDoor } from '../../../src/rim/web/doors.ts';
import type { ControlSource } from '../../../src/rim/web/routes.ts';

const token = 'ab'.repeat(32);
const dropped: string[] = [];
const source: ControlSource = {
  snapshot: () => ({ version: 'x' }),
  clips: async ({ project }) => [{ project: project ?? 'all' }],
  cards: async () => ({ at: 'now', cards: [] }),
  sayKept: async (id, by) => ({ card: { id, by } }),
  dropCard: async (id) => {
    dropped.push(id);
    return id === 'known' ? { name: 'SALT_A' } : null;
  },
  plan: async (question: unknown) => ({ answer: question }),
  measured: async (sample: unknown) => Object(sample).volume === 'stripe',
  keepPlan: async (question: unknown) => ({ answer: question }),
  backupNow: ({ shelf }) => (shelf === 'shelf-z' ? { problem: 'none' } : { begun: [`stripe to ${shelf}`] }),
  verify: async (ask) => ({ begun: [ask] }),
  verifications: () => [],
  endVerify: (shelf) => ({ ended: shelf === null ? 2 : 1 }),
  lost: async (ask) => [ask],
  dropPlans: async (project: string) => ({ dropped: 1, stay: [project] }),
  page: () => '<!doctype html><title>page</title>',
  monitor: {
    metrics: (accept) => ({ status: 200, type: 'text/plain; version=0.0.4', body: `metrics for ${accept}\n` }),
    health: () => ({ status: 503, type: 'text/plain', body: 'assessment: stands still\n' }),
    readiness: () => ({ status: 200, type: 'text/plain', body: 'ready\n' }),
  },
};
let folder: string;
let doors: Door[];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-doors-'));
  doors = [];
  dropped.length = 0;
});
afterEach(async () => {
  for (const door of doors) await door.close();
  rmSync(folder, { recursive: true, force: true });
});

interface Answer {
  status: number;
  headers: Record<string, string | string[] | undefined>;
  body: string;
}

function get(port: number, path: string, headers: Record<string, string> = {}, method = 'GET'): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const asked = request({ host: '127.0.0.1', port, path, method, headers }, (response) => {
      let body = '';
      response.on('data', (chunk) => {
        body += chunk;
      });
      response.on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, body }));
    });
    asked.on('error', reject);
    asked.end();
  });
}

async function page(openMetrics = false): Promise<number> {
  const door = await openPageDoor(0, token, source, { openMetrics });
  doors.push(door);
  return Number(new URL(door.address).port);
}

describe('the page', () => {
  const cookie = { cookie: `other=1; headroomd=${token}` };

  test('is served to who has the token, on loopback alone', async () => {
    const port = await page();
    expect(await get(port, '/', cookie)).toMatchObject({ status: 200, body: '<!doctype html><title>page</title>' });
    expect(JSON.parse((await get(port, '/api/snapshot', cookie)).body)).toEqual({ version: 'x' });
    expect(JSON.parse((await get(port, '/api/clips?project=Saltmarsh', cookie)).body)).toEqual([
      { project: 'Saltmarsh' },
    ]);
    const asked = encodeURIComponent('{"cameras":2}');
    expect(JSON.parse((await get(port, `/api/plan?ask=${asked}`, cookie)).body)).toEqual({ answer: { cameras: 2 } });
    expect(JSON.parse((await get(port, '/api/plan?ask={', cookie)).body)).toEqual({ answer: {} });
    const { headers } = await get(port, '/', cookie);
    expect(headers['content-security-policy']).toContain("default-src 'none'");
    expect(headers['cache-control']).toBe('no-store');
  });

  test('a token in the address is exchanged for a strict cookie, and leaves the address', async () => {
    const port = await page();
    const answer = await get(port, `/?token=${token}`);
    expect(answer.status).toBe(303);
    expect(answer.headers['location']).toBe('/');
    expect(answer.headers['set-cookie']?.[0]).toMatch(
      new RegExp(`^headroomd=${token}; HttpOnly; SameSite=Strict; Path=/`),
    );
  });

  test.each([
    ['no token', {}],
    ['a wrong token', { cookie: `headroomd=${'cd'.repeat(32)}` }],
    ['a token that is too short', { cookie: 'headroomd=ab' }],
    ['an empty token', { cookie: 'headroomd=' }],
  ])('refuses %s, everywhere, and says how to come by it', async (_what, headers) => {
    const port = await page();
    for (const path of ['/', '/api/snapshot', '/api/clips', '/nowhere', '/?token=wrong', '//x?token=']) {
      const answer = await get(port, path, headers);
      expect(answer.status, path).toBe(403);
      expect(answer.body).toContain('headroomd status');
      expect(answer.body).not.toContain(token);
    }
  });

  test('refuses other hosts, with the right token too (DNS rebinding)', async () => {
    const port = await page();
    for (const host of ['example.org', `example.org:${port}`, '127.0.0.1', '127.0.0.1:1', `0.0.0.0:${port}`]) {
      expect((await get(port, '/api/snapshot', { ...cookie, host })).status, host).toBe(421);
      expect((await get(port, `/?token=${token}`, { host })).status, host).toBe(421);
    }
    expect((await get(port, '/', { ...cookie, host: `localhost:${port}` })).status).toBe(200);
  });

  test('whether it is well is told to everybody on this machine; metrics only when that was said', async () => {
    const closed = await page();
    const open = await page(true);
    for (const port of [closed, open]) {
      expect(await get(port, '/healthz')).toMatchObject({ status: 503, body: 'assessment: stands still\n' });
      expect(await get(port, '/readyz?x=1')).toMatchObject({ status: 200, body: 'ready\n' });
      for (const path of ['/', '/api/snapshot', '/healthz/', '/metrics/', '/metrics/../api/snapshot', '/healthz/../'])
        expect((await get(port, path)).status, path).toBe(403);
      expect((await get(port, '/healthz', {}, 'POST')).status).toBe(403);
      expect((await get(port, '/healthz', { host: `example.org:${port}` })).status).toBe(421);
    }
    expect((await get(closed, '/metrics')).status).toBe(403);
    expect((await get(closed, '/%6detrics')).status).toBe(403);
    expect(await get(closed, '/metrics', { ...cookie, accept: 'text/plain' })).toMatchObject({
      ...{ status: 200, body: 'metrics for text/plain\n' },
    });
    expect(await get(open, '/metrics', { accept: 'a/b' })).toMatchObject({
      ...{ status: 200, body: 'metrics for a/b\n' },
      headers: { 'content-type': 'text/plain; version=0.0.4', vary: 'accept', 'cache-control': 'no-store' },
    });
    expect((await get(open, '/metrics', { host: 'example.org' })).status).toBe(421);
  });

  test('other methods and addresses change nothing and fail cleanly', async () => {
    const port = await page();
    for (const method of ['POST', 'PUT', 'DELETE'])
      for (const path of ['/api/snapshot', '/api/cards/drop', '/api/cards'])
        expect((await get(port, path, cookie, method)).status, `${method} ${path}`).toBe(404);
    expect(dropped).toEqual([]);
    expect((await get(port, '/../../etc/passwd', cookie)).status).toBe(404);
    expect((await get(port, '/nowhere', cookie)).status).toBe(404);
  });

  test('what is no HTTP at all leaves it standing', async () => {
    const port = await page();
    const socket = connect(port, '127.0.0.1');
    socket.on('error', () => {}).resume();
    socket.end('\u0000\u0001\u0002 nonsense\r\n\r\n');
    await new Promise((resolve) => socket.once('close', resolve));
    expect((await get(port, '/', cookie)).status).toBe(200);
  });

  test('a busy port is told with what to do', async () => {
    const taken = createServer().listen(0, '127.0.0.1');
    await new Promise((resolve) => taken.once('listening', resolve));
    const address = taken.address();
    const port = typeof address === 'object' && address !== null ? address.port : 0;
    await expect(openPageDoor(port, token, source, { openMetrics: false })).rejects.toMatchObject({
      code: 'port-busy',
      message: expect.stringMatching(new RegExp(`Port ${port} is taken .* Name a free one with --port N`)),
    });
    taken.close();
  });
});

describe('the control socket', () => {
  test("is the user's alone, answers, and is gone after", async () => {
    const path = join(folder, 'control.sock');
    const door = await openControlDoor(path, source);
    expect(statSync(path).mode & 0o777).toBe(0o600);
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
    expect(await askDaemon(path, '/api/clips?project=A%26B')).toEqual([{ project: 'A&B' }]);
    await door.close();
    expect(existsSync(path)).toBe(false);
    expect(await askDaemon(path, '/api/snapshot')).toBeNull();
  });

  test('what changes something is asked for by POST, with a body that says what', async () => {
    const path = join(folder, 'control.sock');
    doors.push(await openControlDoor(path, source));
    expect(await askDaemon(path, '/api/cards')).toEqual({ at: 'now', cards: [] });
    expect(await tellDaemon(path, '/api/cards/drop', { id: 'known' })).toEqual({ dropped: { name: 'SALT_A' } });
    expect(await tellDaemon(path, '/api/cards/drop', { id: 'knows' })).toEqual({ dropped: null });
    expect(dropped).toEqual(['known', 'knows']);
    expect(await tellDaemon(path, '/api/measured', { volume: 'stripe' })).toEqual({ kept: true });
    await expect(tellDaemon(path, '/api/measured', { volume: 'x' })).rejects.toMatchObject({
      message: expect.stringContaining('It takes a measurement of a volume that is watched'),
    });
    expect(await tellDaemon(path, '/api/plan/keep', { cameras: 4 })).toEqual({ answer: { cameras: 4 } });
    expect(await tellDaemon(path, '/api/plan/drop', { project: 'Saltmarsh' })).toEqual({
      dropped: 1,
      stay: ['Saltmarsh'],
    });
    await expect(tellDaemon(path, '/api/plan/drop', { project: 7 })).rejects.toMatchObject({
      code: 'daemon-unreachable',
    });
    expect(await tellDaemon(path, '/api/backup/now', { shelf: 'shelf-a' })).toEqual({ begun: ['stripe to shelf-a'] });
    expect(await tellDaemon(path, '/api/backup/now', null)).toEqual({ begun: ['stripe to null'] });
    expect(await tellDaemon(path, '/api/backup/lost', { project: 'Saltmarsh' })).toEqual({
      lost: [{ shelf: null, project: 'Saltmarsh' }],
    });
    for (const wrong of [{}, { id: 7 }, null, [], 'known']) {
      await expect(tellDaemon(path, '/api/cards/drop', wrong)).rejects.toMatchObject({ code: 'daemon-unreachable' });
    }
    await expect(askDaemon(path, '/api/cards/drop')).rejects.toMatchObject({ message: expect.stringContaining('404') });
    expect(dropped).toHaveLength(2);
    expect(await tellDaemon(join(folder, 'nobody.sock'), '/api/cards/drop', { id: 'known' })).toBeNull();
  });

  test('a socket left by a killed daemon is replaced', async () => {
    const path = join(folder, 'control.sock');
    writeFileSync(path, '');
    doors.push(await openControlDoor(path, source));
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
  });

  test('works in a folder whose path is longer than a socket address', async () => {
    const deep = join(folder, 'x'.repeat(100), 'y'.repeat(100));
    mkdirSync(deep, { recursive: true });
    const path = join(deep, 'control.sock');
    const door = await openControlDoor(path, source);
    expect(statSync(path).isSocket()).toBe(true);
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
    await door.close();
    expect(existsSync(path)).toBe(false);
  });

  test('an answer that is none is told', async () => {
    const path = join(folder, 'control.sock');
    doors.push(await openControlDoor(path, source));
    await expect(askDaemon(path, '/nowhere')).rejects.toMatchObject({
      code: 'daemon-unreachable',
      message: expect.stringContaining('404'),
    });
  });
});
