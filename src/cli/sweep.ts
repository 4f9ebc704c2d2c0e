import { setTimeout as sleep } from 'node:timers/promises';
import { Fault } from '../core/fault.ts';
import { terminalJson } from '../core/present/escape.ts';
import { formatDuration, listWords } from '../core/units.ts';
import { composeClient, type DaemonClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, sentence } from './io.ts';
import { progressLine } from './progress-line.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface SweepOptions {
  state?: string;
  wait?: boolean;
  json?: boolean;
}

/** As the daemon tells it. */
interface SweepTold {
  volume: string;
  startedAt: string;
  endedAt: string | null;
  why: string | null;
}

const ASK_MS = 500;

/** `headroomd sweep`: has every folder of a volume, or of all, read again now. */
export async function sweepVerb(io: CliIo, volume: string | undefined, options: SweepOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  const told = (await client.tell('/api/sweep', { volume: volume ?? null })) as
    | { begun: string[] }
    | { problem: string }
    | null;
  if (told === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
  if ('problem' in told) throw new Fault('failed', `${told.problem}.`);
  if (options.wait === true) return follow(io, client, told.begun, options.json === true);
  const words = `Begun: every folder of ${listWords(told.begun)} is read again. What is new is taken in as it is found.`;
  io.out(options.json ? `${terminalJson(told)}\n` : sentence(io, words));
  return exitCodes.ok;
}

/** Until all are through. Whoever ends this ends the waiting alone. */
async function follow(io: CliIo, client: DaemonClient, begun: readonly string[], asJson: boolean): Promise<number> {
  const line = progressLine(io, { silent: asJson });
  const from = performance.now();
  try {
    for (;;) {
      const told = (await client.ask('/api/sweep')) as { sweeps: SweepTold[] } | null;
      if (told === null) throw new Fault('no-daemon', 'the daemon has ended meanwhile; the next one reads everything.');
      const mine = told.sweeps.filter((one) => begun.includes(one.volume));
      const going = mine.filter(({ endedAt }) => endedAt === null);
      if (going.length === 0) {
        line.end();
        return tellEnd(io, mine, asJson);
      }
      const names = listWords(going.map((one) => one.volume));
      line.tell(`${names}: every folder is read, for ${formatDuration(Math.round((performance.now() - from) / 1000))}`);
      await sleep(ASK_MS);
    }
  } finally {
    line.end();
  }
}

function tellEnd(io: CliIo, sweeps: readonly SweepTold[], asJson: boolean): number {
  if (asJson) io.out(`${terminalJson(sweeps)}\n`);
  else for (const one of sweeps) io.out(sentence(io, endWords(one)));
  return sweeps.every(({ why }) => why === null) ? exitCodes.ok : exitCodes.failed;
}

function endWords({ volume, startedAt, endedAt, why }: SweepTold): string {
  const took = (Date.parse(endedAt ?? startedAt) - Date.parse(startedAt)) / 1000;
  if (why === null) return `${volume}: every folder was read, in ${formatDuration(took)}.`;
  return `${volume}: not every folder was read: ${why}. It is read again when the volume is there.`;
}
