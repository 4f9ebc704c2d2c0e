import { type ChildProcess, spawn } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A call of `Notify`, as the service read it. */
export interface Shown {
  app: string;
  replaces: number;
  summary: string;
  body: string;
  actions: string[];
  expires: number;
  urgency: number;
  id: string;
}

export interface DesktopSession {
  /** What a program of that session has around it. */
  env: Record<string, string | undefined>;
  answer(how: 'takes' | 'refuses' | 'later' | 'never'): void;
  able(...capabilities: string[]): void;
  shown(): Shown[];
  startService(): Promise<void>;
  endService(): Promise<void>;
  end(): Promise<void>;
}

const SERVICE = new URL('./notification-service.py', import.meta.url).pathname;

/** A bus of its own, by dbus-daemon, without a service on it yet. */
export async function desktopSession(): Promise<DesktopSession> {
  const folder = mkdtempSync(join(tmpdir(), 'headroomd-desktop-'));
  const address = `unix:path=${join(folder, 'bus')}`;
  const bus = await begun('dbus-daemon', [
    ...['--session', '--nofork', '--nopidfile', '--print-address', `--address=${address}`],
  ]);
  let service: ChildProcess | null = null;
  const write = (name: string, text: string) => writeFileSync(join(folder, name), text);
  write('how', 'takes');
  write('capabilities', 'body');
  const endService = async () => {
    if (service !== null) await ended(service);
    service = null;
  };
  return {
    env: { PATH: process.env['PATH'], DBUS_SESSION_BUS_ADDRESS: address },
    answer: (how) => write('how', how),
    able: (...capabilities) => write('capabilities', capabilities.join(' ')),
    shown() {
      if (!existsSync(join(folder, 'calls'))) return [];
      const lines = readFileSync(join(folder, 'calls'), 'utf8').trim().split('\n');
      return lines.map((line) => JSON.parse(line) as Shown);
    },
    async startService() {
      service = await begun('/usr/bin/python3', [SERVICE, address, folder]);
    },
    endService,
    async end() {
      await endService();
      await ended(bus);
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

/** A program that has said its first line. */
function begun(program: string, argv: string[]): Promise<ChildProcess> {
  return new Promise((resolve, reject) => {
    const child = spawn(program, argv, { stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    child.stderr.on('data', (chunk) => {
      said += chunk;
    });
    child.once('error', reject);
    child.once('exit', (code) => reject(new Error(`${program} ended with ${code}: ${said}`)));
    child.stdout.once('data', () => resolve(child));
  });
}

function ended(child: ChildProcess): Promise<void> {
  if (child.exitCode !== null || child.signalCode !== null) return Promise.resolve();
  return new Promise((resolve) => {
    child.once('exit', () => resolve());
    child.kill('SIGKILL');
  });
}
