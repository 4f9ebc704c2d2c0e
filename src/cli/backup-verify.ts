import { setTimeout as sleep } from 'node:timers/promises';
import { Fault } from '../core/fault.ts';
import { terminalJson } from '../core/present/escape.ts';
import { type Moment, noteMoment, paceWords } from '../core/present/progress-words.ts';
import type { VerifySnapshot } from '../core/present/snapshot-verify.ts';
import { wrap } from '../core/present/text.ts';
import { badCopySentence, verifyProgress, verifySummary } from '../core/present/verify-words.ts';
import { composeClient, type DaemonClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, sentence, textWidth } from './io.ts';
import { type ProgressLine, progressLine } from './progress-line.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface VerifyOptions {
  state?: string;
  project?: string;
  wait?: boolean;
  anew?: boolean;
  end?: boolean;
  json?: boolean;
}

interface Begun {
  volume: string;
  shelf: string;
}

const ASK_MS = 1_000;

/** `headroomd backup verify`: has copies read again; the daemon does it, and this stays only when it is asked to. */
export async function backupVerifyVerb(io: CliIo, shelf: string | undefined, options: VerifyOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  const tell = async (path: string, body: unknown): Promise<unknown> => {
    const told = await client.tell(path, body);
    if (told === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
    return told;
  };
  if (options.end === true) {
    return end(io, (await tell('/api/backup/verify/end', { shelf: shelf ?? null })) as Ended, options);
  }
  const ask = { shelf: shelf ?? null, project: options.project ?? null, anew: options.anew === true };
  const told = (await tell('/api/backup/verify', ask)) as { begun: Begun[] } | { problem: string };
  if ('problem' in told) throw new Fault('failed', `${told.problem}.`);
  if (options.wait === true) return follow(io, client, told.begun, options.json === true);
  if (options.json) io.out(`${terminalJson(told)}\n`);
  else {
    const what = told.begun.map((one) => `${one.volume} on ${one.shelf}`).join(', ');
    const words = `Begun: the copies of ${what} are read again. "headroomd backup status" tells how it goes.`;
    io.out(sentence(io, words));
  }
  return exitCodes.ok;
}

interface Ended {
  ended: number;
}

function end(io: CliIo, told: Ended, { json }: VerifyOptions): number {
  if (json) io.out(`${terminalJson(told)}\n`);
  else io.out(told.ended === 0 ? 'Nothing is being read again.\n' : 'Ended. What was read stays read.\n');
  return exitCodes.ok;
}

/** Until all have ended. Whoever ends this alone ends the following, not the reading. */
async function follow(io: CliIo, client: DaemonClient, begun: readonly Begun[], asJson: boolean): Promise<number> {
  const line = progressLine(io, { silent: asJson });
  try {
    const runs = await untilOver(client, begun, line);
    line.end();
    return tellEnd(io, runs, asJson);
  } finally {
    line.end();
  }
}

async function untilOver(client: DaemonClient, begun: readonly Begun[], line: ProgressLine): Promise<VerifySnapshot[]> {
  let moments: Moment[] = [];
  for (;;) {
    const runs = await look(client, begun);
    const going = runs.filter(({ endedAt }) => endedAt === null);
    if (going.length === 0) return runs;
    const [first] = going.toSorted((one, other) => Number(one.state === 'waiting') - Number(other.state === 'waiting'));
    if (first !== undefined) {
      const before = first.state === 'reading' || first.state === 'paused' ? moments : [];
      moments = noteMoment(before, { ticks: performance.now(), bytes: first.movedBytes });
      const held = first.state === 'reading' ? paceWords(moments, bytesLeft(first)) : '';
      const more = going.length === 1 ? '' : `; ${going.length - 1} more`;
      line.tell(`${first.volume} on ${first.shelf}: ${verifyProgress(first)}${held}${more}`);
    }
    await sleep(ASK_MS);
  }
}

function bytesLeft({ allBytes, bytes, movedBytes }: VerifySnapshot): number {
  return (allBytes ?? 0) - Math.max(bytes, movedBytes);
}

async function look(client: DaemonClient, begun: readonly Begun[]): Promise<VerifySnapshot[]> {
  const told = (await client.ask('/api/backup/verify')) as { verifications: VerifySnapshot[] } | null;
  if (told === null) {
    const again = 'Start it, and begin again with the same words: what was read stays read';
    throw new Fault('no-daemon', `the daemon has ended meanwhile. ${again}.`);
  }
  return told.verifications.filter((run) =>
    begun.some(({ volume, shelf }) => volume === run.volume && shelf === run.shelf),
  );
}

function tellEnd(io: CliIo, runs: readonly VerifySnapshot[], asJson: boolean): number {
  const width = textWidth(io);
  const lines = runs.flatMap((run) => [
    ...wrap(verifySummary(run), width),
    ...run.bad.flatMap((bad) => wrap(badCopySentence(run.shelf, run.volume, bad), width, '  ')),
    ...run.goneFirst.flatMap((path) => wrap(`${run.shelf}: ${path} is gone; somebody took it away.`, width, '  ')),
  ]);
  io.out(asJson ? `${terminalJson(runs)}\n` : `${lines.join('\n')}\n`);
  if (runs.some(({ verdict }) => verdict === 'not-as-written')) return exitCodes.copiesDiffer;
  return runs.length > 0 && runs.every(({ verdict }) => verdict === 'as-written') ? exitCodes.ok : exitCodes.failed;
}
