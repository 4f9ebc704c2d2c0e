import { Fault } from '../core/fault.ts';
import { type ClipJson, clipsTable } from '../core/present/clips-table.ts';
import { terminalJson } from '../core/present/escape.ts';
import { composeClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { stateDirFrom } from './state-dir.ts';

/** `headroomd clips`: what has arrived and was understood, from the running daemon. */
export async function clipsVerb(
  io: CliIo,
  options: { state?: string; project?: string; json?: boolean },
): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const query = options.project === undefined ? '' : `?project=${encodeURIComponent(options.project)}`;
  const clips = (await composeClient(stateDir).ask(`/api/clips${query}`)) as ClipJson[] | null;
  if (clips === null) {
    throw new Fault('no-daemon', `no daemon runs on ${stateDir}: start one with 'headroomd run FOLDER'.`);
  }
  io.out(options.json ? `${terminalJson(clips)}\n` : clipsTable(clips, { width: Math.max(60, io.columns) }));
  return exitCodes.ok;
}
