import { Fault } from '../core/fault.ts';
import { terminalJson } from '../core/present/escape.ts';
import type { Report } from '../core/present/report.ts';
import { reportText } from '../core/present/report-text.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import { statusScreen } from '../core/present/status-screen.ts';
import { composeClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface StatusOptions {
  state?: string;
  json?: boolean;
  report?: boolean;
}

/** `headroomd status`: the running daemon's snapshot; with none running the last one that was stored, marked as old. */
export async function statusVerb(io: CliIo, options: StatusOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  if (options.report === true) return reportVerb(io, stateDir, options);
  const live = (await client.ask('/api/snapshot')) as Snapshot | null;
  if (live !== null) {
    io.out(
      options.json
        ? `${terminalJson(live)}\n`
        : statusScreen(live, { width: screenWidth(io), rows: io.rows, old: null }),
    );
    return exitCodes.ok;
  }
  io.err(`headroomd: ${noDaemon(stateDir, options.state)}\n`);
  const last = client.lastSnapshot();
  if (last === null) return exitCodes.noDaemon;
  const ageSeconds = Math.max(0, (Date.now() - last.writtenAt) / 1000);
  const stored = readStored(last.json);
  if (stored === null) {
    io.err('headroomd: the stored snapshot (last-snapshot.json) is damaged; the next run writes it again.\n');
    return exitCodes.noDaemon;
  }
  const old = markOld(stored);
  io.out(
    options.json
      ? `${terminalJson(old)}\n`
      : statusScreen(old, { width: screenWidth(io), rows: io.rows, old: ageSeconds }),
  );
  return exitCodes.noDaemon;
}

/** `headroomd status --report`: what the last 24 hours brought. Only a daemon can tell. */
async function reportVerb(io: CliIo, stateDir: string, { state, json }: StatusOptions): Promise<number> {
  const report = (await composeClient(stateDir).ask('/api/report')) as Report | null;
  if (report === null) throw new Fault('no-daemon', noDaemon(stateDir, state));
  io.out(json ? `${terminalJson(report)}\n` : reportText(report, screenWidth(io)));
  return exitCodes.ok;
}

/** `null` for what is no snapshot: half a file, or one of another kind. */
function readStored(json: string): Snapshot | null {
  try {
    const stored = JSON.parse(json) as Partial<Snapshot>;
    const lists = [stored.volumes, stored.projects, stored.arrivals, stored.advisories];
    return typeof stored.at === 'string' && lists.every(Array.isArray) ? (stored as Snapshot) : null;
  } catch {
    return null;
  }
}

/** What a daemon that is gone once knew: every volume's state is unknown now, and the page is not there. */
function markOld(snapshot: Snapshot): Snapshot {
  return {
    ...snapshot,
    page: null,
    volumes: snapshot.volumes.map((volume) => ({ ...volume, state: 'unknown', stale: true })),
  };
}

/** One screen that also reads well when it is wide: 80 columns, or fewer on a narrow terminal. */
function screenWidth(io: CliIo): number {
  return Math.max(40, Math.min(80, io.columns));
}
