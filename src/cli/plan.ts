import { InvalidArgumentError } from 'commander';
import type { PlanQuestion } from '../core/assess/plan-question.ts';
import { Fault } from '../core/fault.ts';
import { terminalJson } from '../core/present/escape.ts';
import type { PlanSnapshot } from '../core/present/plan-json.ts';
import { planScreen } from '../core/present/plan-screen.ts';
import { composeClient } from '../daemon/compose-client.ts';
import type { Reading } from '../settings/reading.ts';
import { parseRaster, parseRate } from '../settings/shoot.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';

export interface PlanOptions extends Omit<PlanQuestion, 'project'> {
  state?: string;
  json?: boolean;
}

/** `headroomd plan`: does the coming shoot fit, play, and get backed up by morning? */
export async function planVerb(io: CliIo, project: string | undefined, options: PlanOptions): Promise<number> {
  const { state, json, ...changes } = options;
  const stateDir = stateDirFrom(state, io);
  const question: PlanQuestion = project === undefined ? changes : { ...changes, project };
  const asked = encodeURIComponent(JSON.stringify(question));
  const told = (await composeClient(stateDir).ask(`/api/plan?ask=${asked}`)) as
    | { answer: PlanSnapshot }
    | { problem: string }
    | null;
  if (told === null) throw new Fault('no-daemon', noDaemon(stateDir, state));
  if ('problem' in told) throw new Fault('failed', `${told.problem}.`);
  io.out(json ? `${terminalJson(told.answer)}\n` : planScreen(told.answer, Math.max(60, Math.min(100, io.columns))));
  return exitCodes.ok;
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
