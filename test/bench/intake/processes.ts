import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';

/** What Linux tells of running processes, proc(5). A process that ends while it is looked at counts as nothing. */

/** A process and all that it started, and they in turn. */
export function familyOf(pid: number): number[] {
  const family = [pid];
  for (const one of family) {
    for (const task of entries(`/proc/${one}/task`)) {
      for (const child of read(`/proc/${one}/task/${task}/children`).split(' ')) {
        if (child !== '') family.push(Number(child));
      }
    }
  }
  return family;
}

/** Resident bytes, pages shared with others counted by their share (PSS), of all of them. */
export function memoryOf(pids: readonly number[]): number {
  return sum(pids, (pid) => kilobytes(read(`/proc/${pid}/smaps_rollup`), 'Pss'));
}

/** The most that each was ever resident with, added up: they need not have been at the same time. */
export function peakOf(pids: readonly number[]): number {
  return sum(pids, (pid) => kilobytes(read(`/proc/${pid}/status`), 'VmHWM'));
}

/** Seconds of CPU so far, user and system, with those of the processes they have seen end. */
export function cpuOf(pids: readonly number[]): number {
  return sum(pids, (pid) => {
    // The name, in brackets, may hold anything.
    const stat = read(`/proc/${pid}/stat`);
    const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
    return fields.slice(11, 15).reduce((ticks, field) => ticks + Number(field), 0) / ticksPerSecond();
  });
}

/** inotify watches of all of them. */
export function watchesOf(pids: readonly number[]): number {
  return sum(pids, (pid) =>
    sum(entries(`/proc/${pid}/fdinfo`), (fd) => read(`/proc/${pid}/fdinfo/${fd}`).split('inotify wd:').length - 1),
  );
}

let ticks: number | null = null;

function ticksPerSecond(): number {
  ticks ??= Number(spawnSync('getconf', ['CLK_TCK'], { encoding: 'utf8' }).stdout) || 100;
  return ticks;
}

function kilobytes(text: string, key: string): number {
  return Number(new RegExp(`^${key}:\\s+(\\d+) kB`, 'm').exec(text)?.[1] ?? 0) * 1024;
}

function sum<Item>(items: readonly Item[], value: (item: Item) => number): number {
  return items.reduce((total, item) => total + value(item), 0);
}

function read(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return '';
  }
}

function entries(path: string): string[] {
  try {
    return readdirSync(path);
  } catch {
    return [];
  }
}
