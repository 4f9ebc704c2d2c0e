import type { RunCause } from '../core/backup/backup-run.ts';
import type { CommandRun } from '../core/backup/command-run.ts';
import type { BackupStorePort, ReportedStorePort } from '../core/backup/copies.ts';
import type { CopyPort, Pace } from '../core/backup/copy-port.ts';
import type { ShelfSeen } from '../core/backup/due.ts';
import type { ShelfPort } from '../core/backup/shelf-port.ts';
import { nextSlot, timetable } from '../core/backup/slots.ts';
import type { Instant } from '../core/model.ts';
import type { Log } from '../core/ports.ts';
import { display } from '../core/present/escape.ts';
import { createCommandPort } from '../rim/command/command-port.ts';
import { systemClock } from '../rim/system/clock.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { BackupAsk, BackupFlow } from './backup/backup-flow.ts';
import type { CommandFlowDeps } from './backup/command-flow.ts';
import { type CommandFlow, type CommandFlowJob, createCommandFlow } from './backup/command-flow.ts';
import type { DuePlan, DueWatch } from './backup/due-watch.ts';

export interface CommandParts extends Pick<CommandFlowDeps, 'changed' | 'refresh' | 'ended' | 'isLive'> {
  settings: FullSettings;
  zone: string;
  stateDir: string;
  store: BackupStorePort;
  reported: ReportedStorePort;
  copies: CopyPort;
  shelves: ShelfPort;
  pace: (volume: string) => Pace;
  log: Log;
}

/** The programs of the configuration, and when they are due. */
export interface CommandDesk {
  flow: CommandFlow;
  plans: DuePlan[];
  /** What a program copies to is seen as a shelf is; `null`: these are shelves. */
  seen(names: readonly string[]): (ShelfSeen & { secondsPerByte: null })[] | null;
  /** False: that is a shelf. */
  begin(order: { shelf: string; cause: RunCause; until: Instant | null }): boolean;
}

export function composeCommands(parts: CommandParts): CommandDesk {
  const { settings, zone, stateDir } = parts;
  const jobs = jobsOf(settings);
  const plans = settings.backups.flatMap(({ from, command, nightly, windowSeconds }): DuePlan[] =>
    command === null ? [] : [{ volume: from, shelves: [command.name], nightly, windowSeconds, isBeside: true }],
  );
  const tables = new Map(plans.map(({ shelves, nightly }) => [shelves[0], timetable(nightly, zone)]));
  const flow = createCommandFlow({
    ...{ ...parts, jobs, clock: systemClock, commands: createCommandPort(stateDir) },
    nextAt(_, name) {
      const table = tables.get(name);
      return table === undefined ? null : (nextSlot(table, systemClock.now())?.at ?? null);
    },
  });
  const isCommand = (name: string | undefined): boolean => name !== undefined && tables.has(name);
  return {
    ...{ flow, plans },
    // It is called by night alone: by day it is not known what it needs, so it lacks nothing that would call it.
    seen: (names) =>
      isCommand(names[0])
        ? names.map((name) => ({ name, isThere: true, lacksBytes: 0, hadAllAt: null, secondsPerByte: null }))
        : null,
    begin({ shelf, cause, until }) {
      if (!isCommand(shelf)) return false;
      flow.now({ name: shelf, cause, until });
      return true;
    },
  };
}

/** As whoever decides what is due hears of a run to a shelf. */
export function asBackup(run: CommandRun): Parameters<DueWatch['ended']>[0] {
  const stage = run.stage === 'failed' ? 'broken' : run.stage === 'stopped' ? 'stopped' : 'done';
  return { ...run, shelf: run.name, stage, troubles: [] };
}

/** Begins what was asked for: backups to a shelf, or the program of that name, or all. */
export function beginAnywhere(
  ask: BackupAsk,
  { flow, commands, shelves }: { flow: BackupFlow; commands: CommandDesk; shelves: readonly string[] },
): ReturnType<BackupFlow['now']> {
  const { shelf: name, cause, until = null } = ask;
  const programs = commands.plans.flatMap((plan) => plan.shelves);
  const isProgram = name !== null && programs.includes(name);
  const known = [...new Set([...shelves, ...programs])];
  if (name !== null && known.length > 0 && !known.includes(name))
    return { problem: `no backup goes to ${display(name)}; there are ${known.map(display).join(', ')}` };
  const begun = name === null || isProgram ? commands.flow.now({ name, cause, until }) : [];
  if (isProgram) return { begun, runs: [] };
  const told = flow.now(ask);
  if ('problem' in told) return begun.length > 0 ? { begun, runs: [] } : told;
  return { ...told, begun: [...told.begun, ...begun] };
}

function jobsOf({ volumes, backups }: FullSettings): CommandFlowJob[] {
  return backups.flatMap(({ from, command, windowSeconds }) => {
    const volume = volumes.find(({ name }) => name === from);
    if (volume === undefined || command === null) return [];
    const { name, argv, readBack } = command;
    return [{ volume: { name: volume.name, path: volume.path }, name, argv, readBack, windowSeconds }];
  });
}
