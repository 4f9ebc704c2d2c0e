import { type ChildProcessWithoutNullStreams, spawn, spawnSync } from 'node:child_process';
import { fileURLToPath } from 'node:url';

const script = fileURLToPath(new URL('./terminal.py', import.meta.url));

/** `null`: programs can be run on a pseudo terminal here; else why not. */
export function whyNoTerminal(): string | null {
  const done = spawnSync('python3', ['-c', 'import pty, termios, os; os.waitstatus_to_exitcode'], { encoding: 'utf8' });
  return done.status === 0 ? null : 'there is no python3 (3.9 or newer) with the module pty';
}

/** A program on a pseudo terminal. */
export interface OnTerminal {
  /** All that it has written. */
  written(): string;
  /** Written since the last call. */
  fresh(): string;
  pid(): number;
  resize(columns: number, rows: number): void;
  type(text: string): void;
  /** Its exit code, and whether the terminal's settings are as before. */
  ended: Promise<{ code: number | null; settings: string }>;
  /** Ends what is left of it. */
  clear(): void;
}

export function onTerminal(
  [command = '', ...args]: readonly string[],
  size: { columns: number; rows: number },
  env: Record<string, string> = {},
): OnTerminal {
  const child: ChildProcessWithoutNullStreams = spawn(
    'python3',
    [script, String(size.rows), String(size.columns), command, ...args],
    { env: { ...process.env, TERM: 'xterm-256color', NO_COLOR: '', ...env } },
  );
  let written = '';
  let said = '';
  let told = 0;
  child.stdout.setEncoding('utf8').on('data', (some: string) => {
    written += some;
  });
  child.stderr.setEncoding('utf8').on('data', (some: string) => {
    said += some;
  });
  const pid = () => Number(said.split('\n')[0]);
  return {
    written: () => written,
    fresh() {
      const from = told;
      told = written.length;
      return written.slice(from);
    },
    pid,
    resize: (columns, rows) => void child.stdin.write(`size ${rows} ${columns}\n`),
    type: (text) => void child.stdin.write(`type ${Buffer.from(text).toString('hex')}\n`),
    ended: new Promise((resolve) => {
      child.once('close', (code) => resolve({ code, settings: said.trim().split('\n').at(-1) ?? '' }));
    }),
    clear() {
      if (child.exitCode !== null || child.signalCode !== null) return;
      if (pid() > 0) process.kill(pid(), 'SIGKILL');
      child.kill('SIGKILL');
    },
  };
}
