import type { BackupStorePort, ReportedStorePort } from '../core/backup/copies.ts';
import type { CopyPort, Pace } from '../core/backup/copy-port.ts';
import type { ShelfPort } from '../core/backup/shelf-port.ts';
import { nextSlot, timetable } from '../core/backup/slots.ts';
import type { Log } from '../core/ports.ts';
import { createCommandPort } from '../rim/command/command-port.ts';
import { systemClock } from '../rim/system/clock.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { CommandFlowDeps } from './backup/command-flow.ts';
import { type CommandFlow, type CommandFlowJob, createCommandFlow } from './backup/command-flow.ts';
import type { DuePlan } from './backup/due-watch.ts';

export interface CommandParts extends Pick<CommandFlowDeps, 'changed' | 'refresh' | 'ended'> {
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
export function composeCommands(parts: CommandParts): { flow: CommandFlow; plans: DuePlan[] } {
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
  return { flow, plans };
}

function jobsOf({ volumes, backups }: FullSettings): CommandFlowJob[] {
  return backups.flatMap(({ from, command, windowSeconds }) => {
    const volume = volumes.find(({ name }) => name === from);
    if (volume === undefined || command === null) return [];
    const { name, argv, readBack } = command;
    return [{ volume: { name: volume.name, path: volume.path }, name, argv, readBack, windowSeconds }];
  });
}
