import { Fault } from '../core/fault.ts';
import { backupsScreen } from '../core/present/backups-screen.ts';
import { terminalJson } from '../core/present/escape.ts';
import { type LostOnShelf, restoreList } from '../core/present/restore-list.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import { composeClient } from '../daemon/compose-client.ts';
import { type AskedRun, waitForBackups } from './backup-wait.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, sentence, textWidth } from './io.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface BackupOptions {
  state?: string;
  json?: boolean;
  adopt?: boolean;
  wait?: boolean;
}

export interface RestoreOptions {
  state?: string;
  json?: boolean;
  shelf?: string;
}

/** `headroomd backup now`: begins, and says what; or stays until it has ended. */
export async function backupNowVerb(io: CliIo, shelf: string | undefined, options: BackupOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const ask = { shelf: shelf ?? null, adopt: options.adopt === true };
  if (ask.adopt && ask.shelf === null)
    throw new Fault('usage', 'name the shelf that is to be adopted: headroomd backup now SHELF --adopt');
  const client = composeClient(stateDir);
  const told = (await client.tell('/api/backup/now', ask)) as
    | { begun: string[]; runs: AskedRun[] }
    | { problem: string }
    | null;
  if (told === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  if ('problem' in told) throw new Fault('failed', `${told.problem}.`);
  if (options.wait === true && told.runs.length < told.begun.length) {
    io.err('headroomd: programs of yours were begun as well; those are not waited for.\n');
  }
  if (options.wait === true) return waitForBackups(io, client, told.runs, options.json === true);
  const words = `Begun: ${told.begun.join(', ')}. "headroomd backup status" tells how it goes.`;
  io.out(options.json ? `${terminalJson(told)}\n` : sentence(io, words));
  return exitCodes.ok;
}

/** `headroomd backup status`: shelves, what lies on them, and how backups go. */
export async function backupStatusVerb(io: CliIo, options: BackupOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const snapshot = (await composeClient(stateDir).ask('/api/snapshot')) as Snapshot | null;
  if (snapshot === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  const { shelves, backups, onlyOnShelves } = snapshot;
  io.out(
    options.json ? `${terminalJson({ shelves, backups, onlyOnShelves })}\n` : backupsScreen(snapshot, textWidth(io)),
  );
  return exitCodes.ok;
}

/** `headroomd backup restore-list`: what to bring back from where. */
export async function restoreListVerb(
  io: CliIo,
  project: string | undefined,
  options: RestoreOptions,
): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const ask = { project: project ?? null, shelf: options.shelf ?? null };
  const told = (await composeClient(stateDir).tell('/api/backup/lost', ask)) as { lost: LostOnShelf[] } | null;
  if (told === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  io.out(options.json ? `${terminalJson(told.lost)}\n` : restoreList(told.lost));
  return exitCodes.ok;
}
