import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { setTimeout as sleep } from 'node:timers/promises';

/** A process group, by its leader; `startedAt` (clock ticks since the machine started) tells it from a later one of the same number. */
export interface Group {
  pid: number;
  startedAt: string;
}

const LOOK_MS = 20;

/** When a process was started, field 22 of /proc/PID/stat, proc_pid_stat(5); `null`: there is none. */
export function startOf(pid: number): string | null {
  try {
    const stat = readFileSync(`/proc/${pid}/stat`, 'latin1');
    // The name, in brackets, may hold anything.
    return stat.slice(stat.lastIndexOf(')') + 2).split(' ')[19] ?? null;
  } catch {
    return null;
  }
}

/** Asks all of a group to end, and ends what is left of it after a while. Resolves when none is left, or it cannot be helped. */
export async function endGroup(pid: number, graceMs: number): Promise<void> {
  signal(pid, 'SIGTERM');
  if (await isGone(pid, graceMs)) return;
  signal(pid, 'SIGKILL');
  await isGone(pid, 2_000);
}

/** A note that cannot be written costs only what is done after this process is killed as well. */
export function noteGroup(note: string, group: Group | null): void {
  try {
    if (group === null) rmSync(note, { force: true });
    else writeFileSync(note, JSON.stringify(group), { mode: 0o600 });
  } catch {}
}

/** Ends what an earlier one left, when whatever watched it was killed too. */
export async function endLeftover(note: string, graceMs: number): Promise<void> {
  const left = noted(note);
  if (left !== null && startOf(left.pid) === left.startedAt) await endGroup(left.pid, graceMs);
  rmSync(note, { force: true });
}

function noted(note: string): Group | null {
  try {
    const { pid, startedAt } = JSON.parse(readFileSync(note, 'utf8')) as Group;
    return Number.isInteger(pid) && pid > 1 && typeof startedAt === 'string' ? { pid, startedAt } : null;
  } catch {
    return null;
  }
}

/** False: there is none left. */
function signal(pid: number, name: NodeJS.Signals | 0): boolean {
  try {
    process.kill(-pid, name);
    return true;
  } catch (error) {
    // Members that belong to another user cannot be ended by us, and are there.
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}

async function isGone(pid: number, withinMs: number): Promise<boolean> {
  for (let waited = 0; signal(pid, 0); waited += LOOK_MS) {
    if (waited >= withinMs) return false;
    await sleep(LOOK_MS);
  }
  return true;
}
