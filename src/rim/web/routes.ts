import { createHash, timingSafeEqual } from 'node:crypto';
import fastify, { type FastifyInstance, type FastifyReply, type FastifyRequest } from 'fastify';

import { addMonitorRoutes, type MonitorSource } from './monitor-routes.ts';

/** What the doors show. Handed in, so that both doors and all verbs tell the same. */
export interface WebSource {
  /** The one snapshot, ready for JSON. */
  snapshot(): unknown;
  /** The contract of `clips --json`. */
  clips(query: { project?: string }): Promise<unknown>;
  /** The contract of `card --json`. */
  cards(): Promise<unknown>;
  /** The contract of `plan --json`, or why there is no answer. */
  plan(question: unknown): Promise<{ answer: unknown } | { problem: string }>;
  /** The contract of `status --report --json`: of the last 24 hours. */
  report(): Promise<unknown>;
  monitor: MonitorSource;
}

/** What changes something: over the control socket, and some of it from the page. */
export interface ControlSource extends WebSource {
  /** Hears no more of an inventory. What it told; `null`: there is none with this id. */
  dropCard(id: string): Promise<unknown>;
  /** A person says that a card is kept as it is (`by`), or no longer (`null`): what is told of it then, or why not. */
  sayKept(id: string, by: string | null): Promise<{ card: unknown } | { problem: string }>;
  /** A volume was measured. False: what came is no measurement of a volume that is watched. */
  measured(sample: unknown): Promise<boolean>;
  /** As `plan`, and it counts as planned from now on. */
  keepPlan(question: unknown): Promise<{ answer: unknown } | { problem: string }>;
  /** Forgets what was kept for a project. */
  dropPlans(project: string): Promise<unknown>;
  /** What is left on shelves alone, for who brings it back. */
  lost(ask: { shelf: string | null; project: string | null }): Promise<unknown>;
  /** Has copies read again: on a shelf or all, of a project or all (`null`). */
  verify(ask: { shelf: string | null; project: string | null; anew: boolean }): Promise<unknown>;
  /** How far the readings by command are; and ends them. */
  verifications(): unknown;
  endVerify(shelf: string | null): unknown;
  /** A person wants advisories quiet until then (ms since 1970; `null`: they are known). How they stand then, or why not. */
  snooze(ask: { names: string[]; until: number | null; reason: string; by: string }): Promise<unknown>;
  /** Takes that back. */
  liftSnooze(ask: { names: string[]; by: string }): Promise<unknown>;
  /** Those that are snoozed. */
  snoozed(): unknown;
  /** Begins a backup to a shelf, or to all (`null`). */
  backupNow(ask: { shelf: string | null; adopt: boolean }): { begun: string[] } | { problem: string };
  /** Has every folder of a volume, or of all (`null`), read again. */
  sweep(volume: string | null): { begun: string[] } | { problem: string };
  /** How far those are. */
  sweeps(): unknown;
  /** How far backups are, or how they came out. */
  backups(): unknown;
}

/** The routes without any door check: for the control socket, which is the user's alone by its mode. */
export function buildRoutes(source: WebSource): FastifyInstance {
  const app = fastify({ logger: false, bodyLimit: 64 * 1024, forceCloseConnections: true, requestTimeout: 30_000 });
  app.get('/api/snapshot', async () => source.snapshot());
  app.get<{ Querystring: { project?: string } }>('/api/clips', async (request) => {
    const { project } = request.query;
    return source.clips(typeof project === 'string' ? { project } : {});
  });
  app.get('/api/cards', async () => source.cards());
  app.get<{ Querystring: { ask?: string } }>('/api/plan', async (request) => source.plan(asked(request.query.ask)));
  app.get('/api/report', async () => source.report());
  addMonitorRoutes(app, source.monitor);
  app.setNotFoundHandler((_request, reply) =>
    reply.code(404).send({ error: 'There is nothing at this address; the page is at /.' }),
  );
  return app;
}

/** The routes of the control socket: all that changes something is here; from the page little of it can be had done. */
export function buildControlRoutes(source: ControlSource): FastifyInstance {
  const app = buildRoutes(source);
  app.post<{ Body: { id?: unknown } | null }>('/api/cards/drop', async (request, reply) => {
    const id = request.body?.id;
    if (typeof id !== 'string') return reply.code(400).send({ error: 'It takes a body like {"id": "..."}.' });
    return { dropped: await source.dropCard(id) };
  });
  app.post<{ Body: { id?: unknown; by?: unknown } | null }>('/api/cards/kept', async (request, reply) => {
    const { id, by } = request.body ?? {};
    if (typeof id === 'string' && (by === null || typeof by === 'string')) return source.sayKept(id, by);
    return reply.code(400).send({ error: 'It takes a body like {"id": "...", "by": "..."}.' });
  });
  app.post('/api/measured', async (request, reply) => {
    if (await source.measured(request.body)) return { kept: true };
    return reply.code(400).send({ error: 'It takes a measurement of a volume that is watched.' });
  });
  addBackupNow(app, source);
  app.post<{ Body: { volume?: unknown } | null }>('/api/sweep', async (request) =>
    source.sweep(textOrNull(request.body?.volume)),
  );
  app.get('/api/sweep', async () => ({ sweeps: source.sweeps() }));
  app.get('/api/backup/now', async () => ({ runs: source.backups() }));
  app.post<{ Body: { shelf?: unknown; project?: unknown; anew?: unknown } | null }>(
    '/api/backup/verify',
    async (request) => {
      const { shelf, project, anew } = request.body ?? {};
      return source.verify({ shelf: textOrNull(shelf), project: textOrNull(project), anew: anew === true });
    },
  );
  app.get('/api/backup/verify', async () => ({ verifications: source.verifications() }));
  app.post<{ Body: { shelf?: unknown } | null }>('/api/backup/verify/end', async (request) =>
    source.endVerify(textOrNull(request.body?.shelf)),
  );
  app.post<{ Body: { shelf?: unknown; project?: unknown } | null }>('/api/backup/lost', async (request) => {
    const { shelf, project } = request.body ?? {};
    return { lost: await source.lost({ shelf: textOrNull(shelf), project: textOrNull(project) }) };
  });
  addKeepPlan(app, source);
  app.get('/api/snooze', async () => source.snoozed());
  addSnooze(app, source, null);
  app.post<{ Body: { project?: unknown } | null }>('/api/plan/drop', async (request, reply) => {
    const project = request.body?.project;
    if (typeof project !== 'string') return reply.code(400).send({ error: 'It takes a body like {"project": "..."}.' });
    return source.dropPlans(project);
  });
  return app;
}

export function addBackupNow(app: FastifyInstance, source: ControlSource): void {
  app.post<{ Body: { shelf?: unknown; adopt?: unknown } | null }>('/api/backup/now', async (request) => {
    const { shelf, adopt } = request.body ?? {};
    return source.backupNow({ shelf: textOrNull(shelf), adopt: adopt === true });
  });
}

/** `who`: who says it, where that is not for the caller to say. */
export function addSnooze(app: FastifyInstance, source: ControlSource, who: string | null): void {
  app.post<{ Body: { names?: unknown; until?: unknown; reason?: unknown; by?: unknown } | null }>(
    '/api/snooze',
    async (request, reply) => {
      const { names, until, reason } = request.body ?? {};
      const by = who ?? request.body?.by;
      const isTime = until === null || (typeof until === 'number' && Number.isFinite(until));
      if (isNames(names) && isTime && typeof reason === 'string' && typeof by === 'string')
        return source.snooze({ names, until, reason, by });
      const body = '{"names": ["..."], "until": 1804183200000, "reason": "...", "by": "..."}';
      return reply.code(400).send({ error: `It takes a body like ${body}.` });
    },
  );
  app.post<{ Body: { names?: unknown; by?: unknown } | null }>('/api/snooze/lift', async (request, reply) => {
    const { names } = request.body ?? {};
    const by = who ?? request.body?.by;
    if (isNames(names) && typeof by === 'string') return source.liftSnooze({ names, by });
    return reply.code(400).send({ error: 'It takes a body like {"names": ["..."], "by": "..."}.' });
  });
}

export function addKeepPlan(app: FastifyInstance, source: ControlSource): void {
  app.post('/api/plan/keep', async (request) => source.keepPlan(request.body));
}

/**
 * The routes as the loopback port serves them: every request must name this host (DNS rebinding), and carry the token
 * in its cookie, because loopback is open to every user of the machine. `?token=` exchanges the token for the cookie. The
 * routes in `open` are told without it.
 */
export function guard(
  app: FastifyInstance,
  { token, hosts, open }: { token: string; hosts: () => readonly string[]; open: readonly string[] },
): void {
  app.addHook('onRequest', async (request, reply) => {
    if (!hosts().includes(request.headers.host ?? '')) {
      return refuse(reply, 421, 'This address is for this machine alone; open it as http://127.0.0.1.');
    }
    if (open.includes(request.routeOptions.url ?? '')) return undefined;
    const offered = tokenOf(request.url);
    if (offered !== null && same(offered, token)) {
      return reply
        .header('set-cookie', `${cookieName(token)}=${token}; HttpOnly; SameSite=Strict; Path=/; Max-Age=31536000`)
        .redirect('/', 303);
    }
    if (!same(cookieOf(request, cookieName(token)), token)) {
      return refuse(
        reply,
        403,
        'The address needs its token: `headroomd status` (with the same --state as the daemon) prints it whole.',
      );
    }
    return undefined;
  });
}

/** A sentence for whoever reads it, a person in a browser as a rule. */
function refuse(reply: FastifyReply, code: number, why: string): FastifyReply {
  return reply.code(code).header('content-type', 'text/plain; charset=utf-8').send(`${why}\n`);
}

/** A question is JSON in the address; what is none asks for everything as it is planned. */
function asked(text: unknown): unknown {
  try {
    return typeof text === 'string' ? JSON.parse(text) : {};
  } catch {
    return {};
  }
}

function isNames(value: unknown): value is string[] {
  return Array.isArray(value) && value.every((name) => typeof name === 'string');
}

function textOrNull(value: unknown): string | null {
  return typeof value === 'string' ? value : null;
}

function tokenOf(url: string): string | null {
  // Only the query: a path such as `//` is no URL.
  const query = url.indexOf('?');
  return query === -1 ? null : new URLSearchParams(url.slice(query + 1)).get('token');
}

/**
 * A browser keeps cookies by host, whatever the port (RFC 6265, 8.5): of two daemons on one machine, as with the demo, each has its
 * own, so that neither signs the other out.
 */
export function cookieName(token: string): string {
  return `headroomd-${createHash('sha256').update(token).digest('hex').slice(0, 8)}`;
}

function cookieOf(request: FastifyRequest, wanted: string): string {
  for (const part of (request.headers.cookie ?? '').split(';')) {
    const [name, value] = part.trim().split('=', 2);
    if (name === wanted && value !== undefined) return value;
  }
  return '';
}

function same(offered: string, token: string): boolean {
  const a = Buffer.from(offered);
  const b = Buffer.from(token);
  return a.length === b.length && timingSafeEqual(a, b);
}
