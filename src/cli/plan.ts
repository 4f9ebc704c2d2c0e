import { InvalidArgumentError } from 'commander';
import type { PlanQuestion } from '../core/assess/plan-question.ts';
import { Fault } from '../core/fault.ts';
import { display, terminalJson } from '../core/present/escape.ts';
import type { PlanSnapshot } from '../core/present/plan-json.ts';
import { planScreen } from '../core/present/plan-screen.ts';
import { formatCount } from '../core/units.ts';
import { composeClient } from '../daemon/compose-client.ts';
import type { Reading } from '../settings/reading.ts';
import { parseDay, parseRaster, parseRate } from '../settings/shoot.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, sentence, textWidth } from './io.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface PlanOptions extends Omit<PlanQuestion, 'project'> {
  state?: string;
  json?: boolean;
  /** It counts as planned from now on. */
  keep?: boolean;
  /** What was kept for the project no longer counts. */
  forget?: boolean;
}

/** `headroomd plan`: does the coming shoot fit, play, and get backed up by morning? */
export async function planVerb(io: CliIo, project: string | undefined, options: PlanOptions): Promise<number> {
  const { state, json = false, keep = false, forget = false, ...changes } = options;
  const stateDir = stateDirFrom(state, io);
  const client = composeClient(stateDir);
  if (forget && project === undefined) {
    throw new Fault('usage', 'name the project whose kept plans are to be forgotten: headroomd plan PROJECT --forget');
  }
  if (forget)
    return forgetPlans(io, project, answered(await client.tell('/api/plan/drop', { project }), stateDir, state), json);
  const question: PlanQuestion = project === undefined ? changes : { ...changes, project };
  const asked = `/api/plan?ask=${encodeURIComponent(JSON.stringify(question))}`;
  const told = answered<{ answer: PlanSnapshot } | { problem: string }>(
    ...([await (keep ? client.tell('/api/plan/keep', question) : client.ask(asked)), stateDir, state] as const),
  );
  if ('problem' in told) throw new Fault('failed', `${told.problem}.`);
  const { answer } = told;
  if (json) io.out(`${terminalJson(answer)}\n`);
  else io.out(`${keep ? `${sentence(io, keptWords(answer))}\n` : ''}${planScreen(answer, textWidth(io))}`);
  return exitCodes.ok;
}

function answered<Told>(told: unknown, stateDir: string, state: string | undefined): Told {
  if (told === null) throw new Fault('no-daemon', noDaemon(stateDir, state));
  return told as Told;
}

function keptWords({ project }: PlanSnapshot): string {
  return `Kept: from now on it counts as planned, until "headroomd plan '${project}' --forget".`;
}

/** What the configuration plans for the project is not forgotten by command: it is named, so that nobody wonders. */
function forgetPlans(
  io: CliIo,
  project: string | undefined,
  told: { dropped: number; stay: string[] },
  json: boolean,
): number {
  const name = display(project ?? '');
  const { dropped, stay } = told;
  const first = dropped === 0 ? `Nothing was kept for ${name}` : `What was kept for ${name} is no longer planned`;
  const rest =
    stay.length === 0
      ? ''
      : `; the configuration still plans ${formatCount(stay.length, 'day')} of it, from ${stay[0]} on`;
  io.out(json ? `${terminalJson(told)}\n` : sentence(io, `${first}${rest}.`));
  return exitCodes.ok;
}

/** A calendar day from the command line. */
export function dayArgument(text: string): string {
  return read(parseDay(text), 'a day is like "2027-03-04"');
}

/** A whole number of cameras or days from the command line. */
export function countArgument(text: string): number {
  const count = /^\d{1,4}$/.test(text) ? Number(text) : 0;
  if (count < 1 || count > 1000) throw new InvalidArgumentError('it is a whole number from 1 to 1000.');
  return count;
}

export function hoursArgument(text: string): number {
  const hours = /^\d{1,2}(\.\d+)?$/.test(text) ? Number(text) : 0;
  if (!(hours > 0 && hours <= 24)) throw new InvalidArgumentError('hours are above 0 and up to 24.');
  return hours;
}

export function rasterArgument(text: string): { width: number; height: number } {
  return read(parseRaster(text), 'a raster is like "3840x2160"');
}

export function rateArgument(text: string): { num: number; den: number } {
  return read(parseRate(text), 'frames per second are like "25" or "24000/1001"');
}

function read<Value>(reading: Reading<Value>, expected: string): Value {
  if (reading.ok) return reading.value;
  throw new InvalidArgumentError(`${expected}${reading.hint === null ? '' : `; ${reading.hint}`}.`);
}
