import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:https';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export interface Certificate {
  key: string;
  cert: string;
}

/** A certificate authority of a facility, made by openssl. */
export interface Facility {
  /** PEM. */
  ca: string;
  /** `days`: how long it is valid from now; negative: it has expired. */
  certificate(name: string, days: number): Certificate;
  /** Signed by itself: no authority stands behind it. */
  selfSigned(name: string): Certificate;
  clear(): void;
}

const curve = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:P-256', '-nodes'];

export function facility(): Facility {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-facility-'));
  const file = (name: string) => join(folder, name);
  const openssl = (...args: string[]) => execFileSync('openssl', args, { cwd: folder, stdio: 'pipe' });
  const ofCa = ['-days', '2', '-subj', '/CN=Facility', '-addext', 'basicConstraints=critical,CA:TRUE'];
  openssl('req', '-x509', ...curve, '-keyout', 'ca.key', '-out', 'ca.pem', ...ofCa);
  let made = 0;
  return {
    ca: readFileSync(file('ca.pem'), 'utf8'),
    certificate(name, days) {
      made += 1;
      const [key, request, cert] = [`${made}.key`, `${made}.csr`, `${made}.pem`];
      writeFileSync(file('ext'), `subjectAltName=DNS:${name}\n`);
      openssl('req', ...curve, '-keyout', key, '-out', request, '-subj', `/CN=${name}`);
      const signed = ['-CA', 'ca.pem', '-CAkey', 'ca.key', '-days', String(days), '-extfile', 'ext'];
      openssl('x509', '-req', '-in', request, ...signed, '-out', cert);
      return { key: readFileSync(file(key), 'utf8'), cert: readFileSync(file(cert), 'utf8') };
    },
    selfSigned(name) {
      made += 1;
      const [key, cert] = [`${made}.key`, `${made}.pem`];
      const ofItself = ['-days', '2', '-subj', `/CN=${name}`, '-addext', `subjectAltName=DNS:${name}`];
      openssl('req', '-x509', ...curve, '-keyout', key, '-out', cert, ...ofItself);
      return { key: readFileSync(file(key), 'utf8'), cert: readFileSync(file(cert), 'utf8') };
    },
    clear: () => rmSync(folder, { recursive: true }),
  };
}

export interface Received {
  headers: Record<string, string | string[] | undefined>;
  body: string;
}

export interface SecureServer {
  port: number;
  received: Received[];
  close(): Promise<void>;
}

/** An HTTPS server on loopback that answers everything with one status. */
export async function secureServer(
  certificate: Certificate,
  status: number,
  headers: Record<string, string> = {},
): Promise<SecureServer> {
  const received: Received[] = [];
  const server: Server = createServer(certificate, async (request, response) => {
    let body = '';
    for await (const chunk of request) body += chunk;
    received.push({ headers: request.headers, body });
    response.writeHead(status, headers).end('x'.repeat(100_000));
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return {
    port: (server.address() as AddressInfo).port,
    received,
    async close() {
      server.closeAllConnections();
      await new Promise((resolve) => server.close(resolve));
    },
  };
}
