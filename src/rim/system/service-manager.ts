import { type ChildProcess, spawn } from 'node:child_process';
import { createInterface } from 'node:readline';
import type { ServicePort } from '../../core/service-notice.ts';

/**
 * systemd is told by a datagram to the socket in NOTIFY_SOCKET, and Node has no such sockets (nor may a socket be opened as a
 * file: ENXIO). `systemd-notify` of systemd sends it. A shell that is started once, while this process is small, calls it for
 * each line: a process of our own for each word would hold the main thread for some 60 ms at 200 MB of heap, since the whole
 * of its memory has to be set up for copying; a line into a pipe takes microseconds. It reads until we are gone.
 * What it says does not come from the main process, so the unit needs NotifyAccess=all.
 */
const SPEAKER = 'set -f; IFS="\t"; while read -r line; do systemd-notify $line; done';

/** So long may be waited at the end for what was said last. */
const LAST_WORDS_MS = 2_000;

/** What is kept of a complaint. */
const LONGEST = 500;

/**
 * The service manager, when one started us that wants to hear of us; else `null`. Its variables are taken out of `env`: no
 * program that we start is to speak for us. `trouble` hears once what goes wrong.
 */
export function openServiceManager(
  env: NodeJS.ProcessEnv,
  pid: number,
  trouble: (why: string) => void,
): ServicePort | null {
  const { NOTIFY_SOCKET: socket, WATCHDOG_USEC: period, WATCHDOG_PID: watched } = env;
  for (const name of ['NOTIFY_SOCKET', 'WATCHDOG_USEC', 'WATCHDOG_PID']) delete env[name];
  if (socket === undefined || socket === '') return null;
  const isOurs = watched === undefined || Number(watched) === pid;
  const periodMs = Number(period) / 1000;
  return {
    watchdogMs: isOurs && periodMs > 0 ? periodMs : null,
    ...speaker({ PATH: env['PATH'], NOTIFY_SOCKET: socket }, once(trouble)),
  };
}

function speaker(env: NodeJS.ProcessEnv, trouble: (why: string) => void): Pick<ServicePort, 'say' | 'close'> {
  let child: ChildProcess | null = null;

  function start(): ChildProcess {
    const begun = spawn('/bin/sh', ['-c', SPEAKER], { cwd: '/', env, stdio: ['pipe', 'ignore', 'pipe'] });
    begun.on('error', ({ message }) => trouble(message));
    begun.on('exit', () => {
      if (child === begun) child = null;
    });
    begun.stdin.on('error', ({ message }) => trouble(message));
    createInterface({ input: begun.stderr }).on('line', (line) => trouble(line.slice(0, LONGEST)));
    // It ends when we do, and keeps nobody.
    begun.unref();
    return begun;
  }

  return {
    say(assignments) {
      child ??= start();
      const line = assignments.map((one) => one.replaceAll(/[\t\n]/g, ' ')).join('\t');
      child.stdin?.write(`${line}\n`);
    },
    close() {
      const last = child;
      child = null;
      if (last === null) return Promise.resolve();
      return new Promise((resolve) => {
        const late = setTimeout(() => last.kill('SIGKILL'), LAST_WORDS_MS);
        last.once('exit', () => {
          clearTimeout(late);
          resolve();
        });
        last.stdin?.end();
      });
    },
  };
}

function once(tell: (why: string) => void): (why: string) => void {
  let isTold = false;
  return (why) => {
    if (!isTold) tell(why);
    isTold = true;
  };
}
