import { chmodSync, closeSync, openSync, rmSync } from 'node:fs';
import { basename, dirname } from 'node:path';
import { Fault, messageOf } from '../../core/fault.ts';
import { ALWAYS_OPEN, METRICS_PATH } from './monitor-routes.ts';
import { addPageRoutes, guardActions, type PageParts, type PageSource } from './page-routes.ts';
import { buildControlRoutes, buildRoutes, type ControlSource, guard } from './routes.ts';

/**
 * Any user of the machine reaches the port. Connections that send their headers by drops are let go, and more than a few
 * hundred are not taken: the control socket is reached all the same.
 */
const ABUSE = {
  headersTimeout: 10_000,
  keepAliveTimeout: 5_000,
  maxConnections: 256,
  connectionsCheckingInterval: 2_000,
};

export interface Door {
  close(): Promise<void>;
}

/** A Unix socket path must fit 108 bytes with its end; longer ones are reached through an open folder. */
const longestSocketPath = 107;

/**
 * Serves the verbs on a Unix socket of this mode: for its user alone, or for the group of this process too. The caller holds
 * the state lock, so a socket file that is still there was left by a killed daemon and is replaced.
 */
export async function openControlDoor(path: string, source: ControlSource, mode: 0o600 | 0o660): Promise<Door> {
  const app = buildControlRoutes(source);
  rmSync(path, { force: true });
  const { short, release } = shortSocketPath(path);
  await app.listen({ path: short });
  chmodSync(path, mode);
  return {
    async close() {
      await app.close();
      release();
      rmSync(path, { force: true });
    },
  };
}

/**
 * Serves the page on 127.0.0.1. `openMetrics`: they are told without the token.
 * @throws Fault `port-busy`
 */
export async function openPageDoor(
  port: number,
  token: string,
  source: PageSource,
  parts: PageParts,
): Promise<Door & { address: string }> {
  const app = buildRoutes(source);
  let bound = port;
  const hosts = () => [`127.0.0.1:${bound}`, `localhost:${bound}`];
  guard(app, { token, hosts, open: parts.openMetrics ? [...ALWAYS_OPEN, METRICS_PATH] : ALWAYS_OPEN });
  guardActions(app, () => hosts().map((host) => `http://${host}`));
  addPageRoutes(app, source, parts);
  Object.assign(app.server, ABUSE);
  try {
    await app.listen({ host: '127.0.0.1', port });
  } catch (error) {
    await app.close();
    const busy = (error as NodeJS.ErrnoException).code === 'EADDRINUSE';
    throw new Fault(
      'port-busy',
      busy
        ? `Port ${port} is taken by another program, so there is no status page; everything else goes on. Name a free one with --port N (0 takes any), or set port under [page].`
        : `The status page cannot be served on port ${port}: ${messageOf(error)}. Everything else goes on; name another with --port N.`,
      error,
    );
  }
  const address = app.server.address();
  if (address !== null && typeof address === 'object') bound = address.port;
  return { address: `http://127.0.0.1:${bound}/`, close: () => app.close() };
}

/**
 * A path to the same socket that is short enough for the kernel (Linux: through /proc/self/fd). Release it only when the
 * socket is closed: closing unlinks by this path.
 */
export function shortSocketPath(path: string): { short: string; release: () => void } {
  if (Buffer.byteLength(path) <= longestSocketPath) return { short: path, release: () => undefined };
  const folder = openSync(dirname(path), 'r');
  return { short: `/proc/self/fd/${folder}/${basename(path)}`, release: () => closeSync(folder) };
}
