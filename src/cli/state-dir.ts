import { homedir } from 'node:os';
import { join, resolve } from 'node:path';
import type { CliIo } from './io.ts';

/** Where state is kept: `--state DIR`, else `$XDG_STATE_HOME/headroomd`, else `~/.local/state/headroomd` (XDG Base Directory Specification). */
export function stateDirFrom(option: string | undefined, io: Pick<CliIo, 'env' | 'cwd'>): string {
  if (option !== undefined) return resolve(io.cwd, option);
  const base = io.env['XDG_STATE_HOME'];
  return base?.startsWith('/') ? join(base, 'headroomd') : join(homedir(), '.local', 'state', 'headroomd');
}
