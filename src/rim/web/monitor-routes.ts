import type { FastifyInstance, FastifyReply } from 'fastify';
import type { PlainAnswer } from '../../core/plain-answer.ts';

/** What programs ask that watch over many machines. */
export interface MonitorSource {
  /** In the format that an `Accept` header prefers. */
  metrics(accept: string | undefined): PlainAnswer;
  health(): PlainAnswer;
  readiness(): PlainAnswer;
}

/** Told without the token on every port: no footage is named. */
export const ALWAYS_OPEN: readonly string[] = ['/healthz', '/readyz'];
/** Told without the token when the settings say so: projects are named. */
export const METRICS_PATH = '/metrics';

export function addMonitorRoutes(app: FastifyInstance, source: MonitorSource): void {
  app.get(METRICS_PATH, async (request, reply) =>
    send(reply.header('vary', 'accept'), source.metrics(request.headers.accept)),
  );
  app.get('/healthz', async (_request, reply) => send(reply, source.health()));
  app.get('/readyz', async (_request, reply) => send(reply, source.readiness()));
}

function send(reply: FastifyReply, { status, type, body }: PlainAnswer): FastifyReply {
  return reply
    .code(status)
    .header('content-type', type)
    .header('cache-control', 'no-store')
    .header('x-content-type-options', 'nosniff')
    .send(body);
}
