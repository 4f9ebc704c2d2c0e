import { request } from 'node:http';
import { Fault, messageOf } from '../../core/fault.ts';
import { shortSocketPath } from './doors.ts';

const patienceMs = 10_000;

/**
 * Asks the daemon behind a control socket for a JSON document.
 * @returns `null` when nobody listens there
 * @throws Fault `daemon-unreachable` when somebody does but gives no proper answer
 */
export function askDaemon(socket: string, path: string): Promise<unknown> {
  return reach(socket, { path, body: null });
}

/** Has the daemon do something: the same with a JSON body, by POST. */
export function tellDaemon(socket: string, path: string, body: unknown): Promise<unknown> {
  return reach(socket, { path, body: JSON.stringify(body) });
}

interface Call {
  path: string;
  /** JSON to post; `null`: only asked. */
  body: string | null;
}

async function reach(socket: string, call: Call): Promise<unknown> {
  const release: (() => void)[] = [];
  try {
    const at = shortSocketPath(socket);
    release.push(at.release);
    return await send(at.short, call);
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    if (code === 'ENOENT' || code === 'ECONNREFUSED' || code === 'ENOTDIR') return null;
    const hint = code === 'EACCES' ? 'it belongs to another user' : messageOf(error);
    throw new Fault('daemon-unreachable', `The daemon behind ${socket} gave no answer: ${hint}.`, error);
  } finally {
    for (const run of release) run();
  }
}

function send(socketPath: string, { path, body }: Call): Promise<unknown> {
  return new Promise((resolve, reject) => {
    const how = body === null ? {} : { method: 'POST', headers: { 'content-type': 'application/json' } };
    const asked = request({ socketPath, path, timeout: patienceMs, agent: false, ...how }, (response) => {
      const chunks: Buffer[] = [];
      response.on('data', (chunk: Buffer) => chunks.push(chunk));
      response.on('error', reject);
      response.on('end', () => {
        const body = Buffer.concat(chunks).toString('utf8');
        if (response.statusCode !== 200) return reject(new Error(`it answered ${response.statusCode}: ${body}`));
        try {
          return resolve(JSON.parse(body));
        } catch (error) {
          return reject(error);
        }
      });
    });
    asked.on('timeout', () => asked.destroy(new Error(`no answer within ${patienceMs / 1000} s`)));
    asked.on('error', reject);
    asked.end(body ?? undefined);
  });
}
