import { Fault } from '../core/fault.ts';
import { type ClipJson, clipsTable } from '../core/present/clips-table.ts';
import { terminalJson } from '../core/present/escape.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import { composeClient, type DaemonClient } from '../daemon/compose-client.ts';
import { nearMiss } from '../settings/near-miss.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

/** `headroomd clips`: what has arrived and was understood, from the running daemon. */
export async function clipsVerb(
  io: CliIo,
  options: { state?: string; project?: string; json?: boolean },
): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  const query = options.project === undefined ? '' : `?project=${encodeURIComponent(options.project)}`;
  const clips = (await client.ask(`/api/clips${query}`)) as ClipJson[] | null;
  if (clips === null) {
    throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  }
  if (clips.length === 0 && options.project !== undefined) await refuseUnknown(client, options.project);
  io.out(options.json ? `${terminalJson(clips)}\n` : clipsTable(clips, { width: Math.max(40, io.columns) }));
  return exitCodes.ok;
}

/** A project without clips is one thing, a name that no project has another. */
async function refuseUnknown(client: DaemonClient, project: string): Promise<void> {
  const names = ((await client.ask('/api/snapshot')) as Snapshot).projects.map(({ name }) => name);
  if (names.includes(project)) return;
  const near = nearMiss(project, names);
  const known = names.length === 0 ? 'there is none yet' : `there are ${names.join(', ')}`;
  throw new Fault(
    'failed',
    `no project is called ${project}${near === null ? '' : `; did you mean ${near}?`} (${known})`,
  );
}
