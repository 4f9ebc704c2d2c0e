import { type ChildProcess, spawn } from 'node:child_process';
import { setTimeout as sleep } from 'node:timers/promises';
import type { Figure } from '../figure.ts';
import { started } from './daemon.ts';
import { cpuOf, familyOf } from './processes.ts';
import { programPath } from './tree.ts';

/**
 * Seconds for what belongs to a start, before a load is measured: the catalogue is read, code is compiled as it gets hot,
 * the collector gives back what the start took, the last time about half a minute later, and after a minute large folders that
 * were filled meanwhile are read once more. Paid once, not while it runs.
 */
export const SETTLED_AFTER = 75;

/** How much of one core a process and all that it started use over so many seconds from now, in percent. */
export async function loadOf(pid: number, seconds: number): Promise<number> {
  const began = performance.now();
  const before = cpuOf(familyOf(pid));
  await sleep(seconds * 1000);
  const used = cpuOf(familyOf(pid)) - before;
  return (used / ((performance.now() - began) / 1000)) * 100;
}

export function ofACore(name: string, value: number, most: number): Figure {
  return { name, value, unit: '% of a core', peer: null, goal: `<= ${most} %`, holds: value <= most };
}

/** Starts one of the programs of this bench and leaves it running. */
export async function runBeside(name: string, ...args: string[]): Promise<ChildProcess> {
  const child = spawn(process.execPath, [programPath(name), ...args], { stdio: ['ignore', 'ignore', 'inherit'] });
  await started(child);
  return child;
}
