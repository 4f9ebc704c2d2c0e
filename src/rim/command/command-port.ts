import { type ChildProcess, fork } from 'node:child_process';
import { createHash } from 'node:crypto';
import { open } from 'node:fs/promises';
import { homedir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { CommandExit, CommandPort } from '../../core/backup/command-port.ts';
import { toUtf8 } from '../../core/intake/path-text.ts';
import type { FromCommand, ToCommand } from './protocol.ts';

const ENTRY = fileURLToPath(new URL('./process.ts', import.meta.url));

/** What a program is handed of the environment, and nothing else. */
const ENVIRONMENT = { PATH: '/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin', LANG: 'C.UTF-8' };
/** Between asking a program to end, and ending it. A stop of the daemon waits for it. */
const GRACE_MS = 4_000;
/** Paths in one write. */
const TOGETHER = 10_000;

/** Runs programs, each under a process that watches it; lists and notes lie in the state folder. */
export function createCommandPort(stateDir: string, graceMs = GRACE_MS): CommandPort {
  /** Names may hold anything that can be seen. */
  const fileOf = (name: string, what: string): string =>
    join(stateDir, `command-${createHash('sha256').update(name).digest('hex').slice(0, 16)}.${what}`);
  return {
    async writeList(name, paths) {
      const path = fileOf(name, 'list');
      await using list = await open(path, 'w', 0o600);
      let some: Uint8Array[] = [];
      for await (const one of paths) {
        some.push(toUtf8(one), Uint8Array.of(0));
        if (some.length >= 2 * TOGETHER) {
          await list.write(Buffer.concat(some));
          some = [];
        }
      }
      await list.write(Buffer.concat(some));
      return path;
    },
    run(order, said, signal) {
      const env = { ...ENVIRONMENT, HOME: homedir() };
      return watched({
        said,
        signal,
        run: { type: 'run', argv: [...order.argv], env, note: fileOf(order.name, 'group'), graceMs },
      });
    },
  };
}

interface Watched {
  run: Extract<ToCommand, { type: 'run' }>;
  said: Parameters<CommandPort['run']>[1];
  signal: AbortSignal;
}

async function watched({ run, said, signal }: Watched): Promise<CommandExit> {
  const child = fork(ENTRY, [], {
    ...{ serialization: 'advanced', cwd: '/', execArgv: [], stdio: ['ignore', 'ignore', 'inherit', 'ipc'] },
  });
  const tell = (message: ToCommand): void => {
    if (child.connected) child.send(message, () => {});
  };
  const end = (): void => tell({ type: 'end', because: 'ended' });
  signal.addEventListener('abort', end, { once: true });
  tell(run);
  if (signal.aborted) end();
  try {
    return await heard(child, tell, said);
  } finally {
    signal.removeEventListener('abort', end);
  }
}

/** Everything that it says is taken before its end counts. */
function heard(child: ChildProcess, tell: (message: ToCommand) => void, said: Watched['said']): Promise<CommandExit> {
  const { promise, resolve, reject } = Promise.withResolvers<CommandExit>();
  let taking: Promise<void> = Promise.resolve();
  let exit: CommandExit | null = null;
  const fail = (error: unknown): void => {
    tell({ type: 'end', because: 'ended' });
    reject(error);
  };
  child.on('message', (message: FromCommand) => {
    if (message.type === 'exit') {
      exit = message.exit;
      return;
    }
    const { lines, tooLong } = message;
    taking = taking.then(async () => {
      const isMore = await said({ lines, tooLong });
      tell(isMore ? { type: 'taken' } : { type: 'end', because: 'flooded' });
    });
    taking.catch(fail);
  });
  const over = (how: string): void =>
    void taking.then(
      () => resolve(exit ?? { is: 'lost', how, errorText: '' }),
      () => {},
    );
  child.once('error', (error) => over(error.message));
  child.once('close', (code, signal) => over(signal === null ? `code ${code}` : signal));
  return promise;
}
