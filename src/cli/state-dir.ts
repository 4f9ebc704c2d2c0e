import { homedir } from 'node:os';
import { join, resolve } from 'node:path';
import { display } from '../core/present/escape.ts';
import type { CliIo } from './io.ts';

/** What to say when no daemon answers; `option` is what was given as --state. */
export function noDaemon(stateDir: string, option: string | undefined): string {
  const same = option === undefined ? '' : ` --state ${option}`;
  return `no daemon runs on ${display(stateDir)}: start one with 'headroomd run FOLDER${display(same)}'.`;
}

/** Where state is kept: `--state DIR`, else `$XDG_STATE_HOME/headroomd`, else `~/.local/state/headroomd` (XDG Base Directory Specification). */
export function stateDirFrom(option: string | undefined, io: Pick<CliIo, 'env' | 'cwd'>): string {
  if (option !== undefined) return resolve(io.cwd, option);
  const base = io.env['XDG_STATE_HOME'];
  return base?.startsWith('/') ? join(base, 'headroomd') : join(homedir(), '.local', 'state', 'headroomd');
}
