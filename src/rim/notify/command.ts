import { type ChildProcess, spawn } from 'node:child_process';
import type { ChannelPort, SendOutcome } from '../../core/notify/channel-port.ts';
import { messageJson } from '../../core/notify/message-json.ts';
import { display } from '../../core/present/escape.ts';

export interface CommandOptions {
  /** The program, absolute, and its arguments. */
  argv: readonly string[];
  /** What of our environment it gets. */
  env: Readonly<Record<string, string | undefined>>;
  host: string;
  zone: string;
  /** For tests; the default is what is promised. */
  wholeMs?: number;
}

/** EX_TEMPFAIL of sysexits(3): "the user is invited to retry". */
const TEMPORARY = 75;
/** It was asked to end, and is ended after so long. */
const GRACE_MS = 1_000;
/** So much of what it says is kept: the last line is enough to tell. */
const KEPT = 2_048;
const PASSED_ON = ['PATH', 'HOME', 'LANG', 'LC_ALL', 'TZ', 'XDG_RUNTIME_DIR'];

/** Runs a program for each message, without a shell: the message as JSON on its standard input, 0 is sent, 75 is later. */
export function commandChannel(options: CommandOptions): ChannelPort {
  const running = new Set<(why: string) => void>();
  let closed = false;
  return {
    send(message) {
      if (closed) return Promise.resolve({ sent: false, retry: true, message: 'It was stopped.' });
      return runOnce(messageJson(message, options), options, running);
    },
    async close() {
      closed = true;
      for (const end of running) end('It was stopped in between.');
    },
  };
}

function runOnce(json: string, options: CommandOptions, running: Set<(why: string) => void>): Promise<SendOutcome> {
  const { argv, env, wholeMs = 30_000 } = options;
  const [program = '', ...rest] = argv;
  const small = Object.fromEntries(PASSED_ON.flatMap((name) => (env[name] === undefined ? [] : [[name, env[name]]])));
  return new Promise((resolve) => {
    let ended: string | null = null;
    let hard: NodeJS.Timeout | undefined;
    let said = '';
    // A group of its own: what it starts is ended with it.
    const child = spawn(program, rest, { cwd: '/', env: small, detached: true, stdio: ['pipe', 'ignore', 'pipe'] });
    const end = (why: string) => {
      ended ??= why;
      signalGroup(child, 'SIGTERM');
      hard ??= setTimeout(() => signalGroup(child, 'SIGKILL'), GRACE_MS);
    };
    const late = setTimeout(() => end(`It had not ended after ${wholeMs / 1000} s, and was ended.`), wholeMs);
    const over = (outcome: SendOutcome) => {
      running.delete(end);
      clearTimeout(late);
      clearTimeout(hard);
      // What it left behind must not outlive it where it was to be ended.
      if (ended !== null) signalGroup(child, 'SIGKILL');
      child.stderr.destroy();
      resolve(outcome);
    };
    running.add(end);
    child.stderr.on('data', (chunk: Buffer) => {
      said = (said + chunk.toString('utf8')).slice(-KEPT);
    });
    // A program that does not read what it is handed closes the pipe.
    child.stdin.on('error', () => {});
    child.on('error', (error: NodeJS.ErrnoException) => over(unstarted(program, error)));
    // Not `close`: what it leaves behind may hold its standard error open.
    child.on('exit', (code, signal) => setImmediate(() => over(outcomeOf({ code, signal, ended, said }))));
    child.stdin.end(json);
  });
}

function outcomeOf(run: {
  code: number | null;
  signal: string | null;
  ended: string | null;
  said: string;
}): SendOutcome {
  const { code, signal, ended, said } = run;
  if (ended !== null) return { sent: false, retry: true, message: ended };
  if (code === 0) return { sent: true };
  const line = said.trim().split('\n').at(-1) ?? '';
  const words = line === '' ? '' : ` It said: ${display(line).slice(0, 300)}`;
  const how = code === null ? `It was ended by ${signal}.` : `It ended with ${code}.`;
  return { sent: false, retry: code === TEMPORARY, message: `${how}${words}` };
}

/** A machine that is out of processes or memory may have some later. */
function unstarted(program: string, { code = 'no code' }: NodeJS.ErrnoException): SendOutcome {
  const retry = code === 'EAGAIN' || code === 'ENOMEM' || code === 'EMFILE';
  return {
    sent: false,
    retry,
    message: `${display(program)} cannot be started (${code}). Check its path and its rights.`,
  };
}

function signalGroup({ pid }: ChildProcess, name: NodeJS.Signals): void {
  if (pid === undefined) return;
  try {
    process.kill(-pid, name);
  } catch {}
}
