import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { type Asset, sendAsset } from './assets.ts';
import type { Live } from './live.ts';
import { addBackupNow, addKeepPlan, addSnooze, type ControlSource } from './routes.ts';

/** What the page shows besides what both doors do. */
export interface PageSource extends ControlSource {
  /** The page as HTML. */
  page(): string;
  /** What its plots draw. */
  plots(): Promise<unknown>;
  /** Footage of a project by day and format. */
  formats(volume: string, project: string): Promise<unknown>;
}

export interface PageParts {
  script: Asset;
  style: Asset;
  live: Live;
  /** Metrics are told without the token. */
  openMetrics: boolean;
}

/** The page, what it is made of, and the few things that can be had done from it. */
export function addPageRoutes(
  app: FastifyInstance,
  source: PageSource,
  { script, style, live }: Omit<PageParts, 'openMetrics'>,
): void {
  app.get('/', async (_request, reply) => sendPage(reply, source.page()));
  app.get('/page.js', async (request, reply) => sendAsset(request, reply, script));
  app.get('/page.css', async (request, reply) => sendAsset(request, reply, style));
  app.get('/api/live', (_request, reply) => {
    if (live.add(reply.raw)) return void reply.hijack();
    return void reply.code(503).header('retry-after', '30').send({ error: 'Too many pages are open; close some.' });
  });
  app.get('/api/plots', async () => source.plots());
  app.get<{ Querystring: { volume?: unknown; project?: unknown } }>('/api/formats', async (request, reply) => {
    const { volume, project } = request.query;
    if (typeof volume === 'string' && typeof project === 'string') return source.formats(volume, project);
    return reply.code(400).send({ error: 'It takes ?volume=...&project=....' });
  });
  addBackupNow(app, source);
  addKeepPlan(app, source);
  // The page knows no person: whoever has its token may sit there.
  addSnooze(app, source, 'somebody on the page');
}

/**
 * What changes something is refused unless the page itself asks: another site can have a browser send a request here, and the browser
 * might send the cookie along, but it says where it comes from and may not send JSON elsewhere unasked (Fetch Standard, CORS).
 */
export function guardActions(app: FastifyInstance, origins: () => readonly string[]): void {
  app.addHook('onRequest', async (request, reply) => {
    if (request.method === 'GET' || request.method === 'HEAD') return undefined;
    const why = whyRefused(request, origins());
    return why === null ? undefined : reply.code(403).send({ error: why });
  });
}

function whyRefused({ headers }: FastifyRequest, origins: readonly string[]): string | null {
  const site = headers['sec-fetch-site'];
  if (!origins.includes(headers.origin ?? '')) return 'This is done from the page itself alone.';
  if (site !== undefined && site !== 'same-origin') return 'This is done from the page itself alone.';
  if (!/^application\/json\b/.test(headers['content-type'] ?? '')) return 'It takes JSON.';
  return null;
}

function sendPage(reply: FastifyReply, html: string): FastifyReply {
  return reply
    .header('content-type', 'text/html; charset=utf-8')
    .header(
      'content-security-policy',
      "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    )
    .header('cross-origin-opener-policy', 'same-origin')
    .header('referrer-policy', 'no-referrer')
    .header('x-content-type-options', 'nosniff')
    .header('cache-control', 'no-store')
    .send(html);
}
