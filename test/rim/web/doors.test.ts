import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { connect, createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { askDaemon, tellDaemon } from '../../../src/rim/web/ask.ts';
import { createAsset } from '../../../src/rim/web/assets.ts';
import { type Door, openControlDoor, openPageDoor } from '../../../src/rim/web/doors.ts';
import { createLive, type Live } from '../../../src/rim/web/live.ts';
import type { PageParts, PageSource } from '../../../src/rim/web/page-routes.ts';

const token = 'ab'.repeat(32);
const dropped: string[] = [];
const source: PageSource = {
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
  backups: () => [],
  sweep: (volume) => (volume === 'shelf-z' ? { problem: 'none' } : { begun: [volume ?? 'all'] }),
  sweeps: () => [],
  verify: async (ask) => ({ begun: [ask] }),
  verifications: () => [],
  endVerify: (shelf) => ({ ended: shelf === null ? 2 : 1 }),
  lost: async (ask) => [ask],
  snooze: async (ask) => ask,
  liftSnooze: async (ask) => ask,
  snoozed: () => ({ at: 'now', advisories: [] }),
  dropPlans: async (project: string) => ({ dropped: 1, stay: [project] }),
  page: () => '<!doctype html><title>page</title>',
  plots: async () => ({ zone: 'UTC', volumes: [] }),
  formats: async (volume, project) => ({ days: [volume, project], formats: [] }),
  report: async () => ({ from: 'yesterday' }),
  monitor: {
    metrics: (accept) => ({ status: 200, type: 'text/plain; version=0.0.4', body: `metrics for ${accept}\n` }),
    health: () => ({ status: 503, type: 'text/plain', body: 'assessment: stands still\n' }),
    readiness: () => ({ status: 200, type: 'text/plain', body: 'ready\n' }),
  },
};
const script = 'console.log("the page");'.repeat(100);

function parts(): PageParts {
  const live = createLive(() => ({ version: '1', title: 'stripe', when: 'as of now', sections: [] }));
  lives.push(live);
  return {
    script: createAsset(Buffer.from(script), 'text/javascript; charset=utf-8'),
    style: createAsset(Buffer.from('p {}'), 'text/css; charset=utf-8'),
    live,
    openMetrics: false,
  };
}
let folder: string;
let doors: Door[];
let lives: Live[];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'headroomd-doors-'));
  doors = [];
  lives = [];
  dropped.length = 0;
});
afterEach(async () => {
  for (const live of lives) live.close();
  for (const door of doors) await door.close();
  rmSync(folder, { recursive: true, force: true });
});

interface Answer {
  status: number;
  headers: Record<string, string | string[] | undefined>;
  body: string;
}

function get(
  port: number,
  path: string,
  headers: Record<string, string> = {},
  method = 'GET',
  body = '',
): Promise<Answer> {
  return new Promise((resolve, reject) => {
    const asked = request({ host: '127.0.0.1', port, path, method, headers, agent: false }, (response) => {
      let body = '';
      response.on('data', (chunk) => {
        body += chunk;
      });
      response.on('end', () => resolve({ status: response.statusCode ?? 0, headers: response.headers, body }));
    });
    asked.on('error', reject);
    asked.end(body);
  });
}

/** Its cookie: each token has its own. */
const NAME = `headroomd-${createHash('sha256').update(token).digest('hex').slice(0, 8)}`;

async function page(openMetrics = false): Promise<number> {
  const door = await openPageDoor(0, token, source, { ...parts(), openMetrics });
  doors.push(door);
  return Number(new URL(door.address).port);
}

describe('the page', () => {
  const cookie = { cookie: `other=1; ${NAME}=${token}` };

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
      new RegExp(`^${NAME}=${token}; HttpOnly; SameSite=Strict; Path=/`),
    );
  });

  test('of two daemons on one machine neither signs the other out: a browser keeps one cookie of a name for all ports', async () => {
    const other = 'ef'.repeat(32);
    const door = await openPageDoor(0, other, source, parts());
    doors.push(door);
    const ports = [await page(), Number(new URL(door.address).port)] as const;
    const given = [await get(ports[0], `/?token=${token}`), await get(ports[1], `/?token=${other}`)];
    const kept = new Map(
      given.map(({ headers }) => (headers['set-cookie']?.[0] ?? '').split(';')[0]?.split('=') as [string, string]),
    );
    const both = { cookie: [...kept].map((one) => one.join('=')).join('; ') };
    for (const port of ports) expect((await get(port, '/api/snapshot', both)).status).toBe(200);
  });

  test.each([
    ['no token', {}],
    ['a wrong token', { cookie: `${NAME}=${'cd'.repeat(32)}` }],
    ['a token that is too short', { cookie: `${NAME}=ab` }],
    ['an empty token', { cookie: `${NAME}=` }],
  ])('refuses %s, everywhere, and says how to come by it', async (_what, headers) => {
    const port = await page();
    for (const path of ['/', '/api/snapshot', '/api/snooze', '/api/clips', '/nowhere', '/?token=wrong', '//x?token=']) {
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

  /** As the page's own script asks. */
  const own = (port: number) => ({
    ...{ origin: `http://127.0.0.1:${port}`, 'sec-fetch-site': 'same-origin', 'content-type': 'application/json' },
  });

  test('has a backup begun and a plan kept for who asks from the page itself', async () => {
    const port = await page();
    const begun = await get(port, '/api/backup/now', { ...cookie, ...own(port) }, 'POST', '{"shelf":"shelf-a"}');
    expect([begun.status, JSON.parse(begun.body)]).toEqual([200, { begun: ['stripe to shelf-a'] }]);
    const kept = await get(port, '/api/plan/keep', { ...cookie, ...own(port) }, 'POST', '{"cameras":4}');
    expect(JSON.parse(kept.body)).toEqual({ answer: { cameras: 4 } });
  });

  test('who snoozes on the page is told as nobody in particular, whatever is asked for', async () => {
    const port = await page();
    const body = JSON.stringify({ names: ['t68js'], until: null, reason: 'known', by: 'anna' });
    const told = await get(port, '/api/snooze', { ...cookie, ...own(port) }, 'POST', body);
    expect(told.body).toContain('somebody on the page');
    expect(told.body).not.toContain('anna');
    const lifted = await get(port, '/api/snooze/lift', { ...cookie, ...own(port) }, 'POST', '{"names":["t68js"]}');
    expect(lifted.body).toContain('somebody on the page');
    expect((await get(port, '/api/snooze', { ...cookie, ...own(port) }, 'POST', '{}')).status).toBe(400);
  });

  test.each([
    ['without its token', (port: number) => ({ ...own(port) })],
    ['from another site', (port: number) => ({ ...cookie, ...own(port), origin: 'http://example.org' })],
    ['from another port', (port: number) => ({ ...cookie, ...own(port), origin: `http://127.0.0.1:${port + 1}` })],
    ['from nowhere', () => ({ ...cookie, 'content-type': 'application/json' })],
    ['from a page that is no origin', (port: number) => ({ ...cookie, ...own(port), origin: 'null' })],
    [
      'across sites by what the browser says',
      (port: number) => ({ ...cookie, ...own(port), 'sec-fetch-site': 'cross-site' }),
    ],
    ['as a form would', (port: number) => ({ ...cookie, ...own(port), 'content-type': 'text/plain' })],
    ['under another name of the host', (port: number) => ({ ...cookie, ...own(port), host: `example.org:${port}` })],
  ])('has nothing done %s', async (_what, headers) => {
    const port = await page();
    for (const path of ['/api/backup/now', '/api/plan/keep']) {
      const answer = await get(port, path, headers(port), 'POST', '{"shelf":"shelf-a"}');
      expect([403, 421], path).toContain(answer.status);
      expect(answer.body).not.toContain('begun');
    }
  });

  test('its script is packed, and asked for again only when it is another', async () => {
    const port = await page();
    const plain = await get(port, '/page.js', cookie);
    expect([plain.status, plain.body]).toEqual([200, script]);
    expect(plain.headers['content-type']).toBe('text/javascript; charset=utf-8');
    const packed = await get(port, '/page.js', { ...cookie, 'accept-encoding': 'gzip, br' });
    expect(packed.headers['content-encoding']).toBe('br');
    expect(Number(packed.headers['content-length'])).toBeLessThan(200);
    const gzip = await get(port, '/page.js', { ...cookie, 'accept-encoding': 'gzip' });
    expect(gzip.headers['content-encoding']).toBe('gzip');
    const again = await get(port, '/page.js', { ...cookie, 'if-none-match': String(plain.headers['etag']) });
    expect([again.status, again.body]).toEqual([304, '']);
    expect((await get(port, '/page.css', cookie)).body).toBe('p {}');
  });

  test('tells what its plots draw', async () => {
    const port = await page();
    expect(JSON.parse((await get(port, '/api/plots', cookie)).body)).toEqual({ zone: 'UTC', volumes: [] });
    const asked = await get(port, '/api/formats?volume=stripe&project=Saltmarsh', cookie);
    expect(JSON.parse(asked.body)).toEqual({ days: ['stripe', 'Saltmarsh'], formats: [] });
    for (const query of ['', '?volume=stripe', '?volume=a&volume=b&project=c'])
      expect((await get(port, `/api/formats${query}`, cookie)).status, query).toBe(400);
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
        expect([400, 404], `${method} ${path}`).toContain(
          (await get(port, path, { ...cookie, ...own(port) }, method, '{}')).status,
        );
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
    await expect(openPageDoor(port, token, source, parts())).rejects.toMatchObject({
      code: 'port-busy',
      message: expect.stringMatching(new RegExp(`Port ${port} is taken .* Name a free one with --port N`)),
    });
    taken.close();
  });
});

describe('the control socket', () => {
  test("is the user's alone, answers, and is gone after", async () => {
    const path = join(folder, 'control.sock');
    const door = await openControlDoor(path, source, 0o600);
    expect(statSync(path).mode & 0o777).toBe(0o600);
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
    expect(await askDaemon(path, '/api/clips?project=A%26B')).toEqual([{ project: 'A&B' }]);
    await door.close();
    expect(existsSync(path)).toBe(false);
    expect(await askDaemon(path, '/api/snapshot')).toBeNull();
  });

  test('one for a group can be used by it, and by nobody else', async () => {
    const path = join(folder, 'control.sock');
    doors.push(await openControlDoor(path, source, 0o660));
    expect(statSync(path).mode & 0o777).toBe(0o660);
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
  });

  test('what changes something is asked for by POST, with a body that says what', async () => {
    const path = join(folder, 'control.sock');
    doors.push(await openControlDoor(path, source, 0o600));
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

  test('a snooze is handed on as it was said, and only when all of it is there', async () => {
    const path = join(folder, 'control.sock');
    doors.push(await openControlDoor(path, source, 0o600));
    const ask = { names: ['t68js'], until: null, reason: 'a\u001b"', by: 'anna' };
    expect(await tellDaemon(path, '/api/snooze', { ...ask, more: 1 })).toEqual(ask);
    expect(await tellDaemon(path, '/api/snooze', { ...ask, until: 5.5 })).toEqual({ ...ask, until: 5.5 });
    expect(await tellDaemon(path, '/api/snooze/lift', ask)).toEqual({ names: ['t68js'], by: 'anna' });
    expect(await askDaemon(path, '/api/snooze')).toEqual({ at: 'now', advisories: [] });
    for (const wrong of [
      null,
      {},
      { ...ask, names: 't68js' },
      { ...ask, names: [7] },
      { ...ask, until: 'soon' },
      { ...ask, until: undefined },
      { ...ask, reason: null },
      { ...ask, by: 7 },
    ])
      await expect(tellDaemon(path, '/api/snooze', wrong)).rejects.toMatchObject({
        message: expect.stringMatching(/It takes a body like .*names.*until.*reason.*by/),
      });
    await expect(tellDaemon(path, '/api/snooze/lift', { names: ['t68js'] })).rejects.toMatchObject({
      message: expect.stringContaining('It takes a body like'),
    });
  });

  test('a socket left by a killed daemon is replaced', async () => {
    const path = join(folder, 'control.sock');
    writeFileSync(path, '');
    doors.push(await openControlDoor(path, source, 0o600));
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
  });

  test('works in a folder whose path is longer than a socket address', async () => {
    const deep = join(folder, 'x'.repeat(100), 'y'.repeat(100));
    mkdirSync(deep, { recursive: true });
    const path = join(deep, 'control.sock');
    const door = await openControlDoor(path, source, 0o600);
    expect(statSync(path).isSocket()).toBe(true);
    expect(await askDaemon(path, '/api/snapshot')).toEqual({ version: 'x' });
    await door.close();
    expect(existsSync(path)).toBe(false);
  });

  test('an answer that is none is told', async () => {
    const path = join(folder, 'control.sock');
    doors.push(await openControlDoor(path, source, 0o600));
    await expect(askDaemon(path, '/nowhere')).rejects.toMatchObject({
      code: 'daemon-unreachable',
      message: expect.stringContaining('404'),
    });
  });
});
