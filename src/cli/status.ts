import { Fault } from '../core/fault.ts';
import { terminalJson } from '../core/present/escape.ts';
import type { Report } from '../core/present/report.ts';
import { reportText } from '../core/present/report-text.ts';
import { dressed } from '../core/present/screen-frame.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import { statusScreen } from '../core/present/status-screen.ts';
import { composeClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';
import { watchStatus } from './status-watch.ts';
import { storedSnapshot } from './stored-snapshot.ts';

export interface StatusOptions {
  state?: string;
  json?: boolean;
  report?: boolean;
  watch?: boolean;
}

/** `headroomd status`: the running daemon's snapshot; with none running the last one that was stored, marked as old. */
export async function statusVerb(io: CliIo, options: StatusOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  if (options.report === true) return reportVerb(io, stateDir, options);
  const without = noDaemon(stateDir, options.state);
  if (options.watch === true) return watchStatus(io, { client, noDaemon: without, json: options.json === true });
  const live = (await client.ask('/api/snapshot')) as Snapshot | null;
  if (live !== null) {
    io.out(told(io, live, null, options));
    return exitCodes.ok;
  }
  io.err(`headroomd: ${without}\n`);
  const last = storedSnapshot(client);
  if (last === 'damaged')
    io.err('headroomd: the stored snapshot (last-snapshot.json) is damaged; the next run writes it again.\n');
  else if (last !== null) io.out(told(io, last.snapshot, last.ageSeconds, options));
  return exitCodes.noDaemon;
}

function told(io: CliIo, snapshot: Snapshot, old: number | null, { json }: StatusOptions): string {
  if (json) return `${terminalJson(snapshot)}\n`;
  const screen = statusScreen(snapshot, { width: screenWidth(io), rows: io.rows, old });
  return io.colour ? screen.split('\n').map(dressed).join('\n') : screen;
}

/** `headroomd status --report`: what the last 24 hours brought. Only a daemon can tell. */
async function reportVerb(io: CliIo, stateDir: string, { state, json }: StatusOptions): Promise<number> {
  const report = (await composeClient(stateDir).ask('/api/report')) as Report | null;
  if (report === null) throw new Fault('no-daemon', noDaemon(stateDir, state));
  io.out(json ? `${terminalJson(report)}\n` : reportText(report, screenWidth(io)));
  return exitCodes.ok;
}

/** One screen that also reads well when it is wide: 80 columns, or fewer on a narrow terminal. */
function screenWidth(io: Pick<CliIo, 'columns'>): number {
  return Math.max(40, Math.min(80, io.columns));
}
