import { notifySettings } from './assemble-notify.ts';
import type { BackupSettings, FullSettings, PlanSettings } from './full-settings.ts';
import { placePath } from './places.ts';
import type { Configuration } from './schema.ts';
import type { VolumeSettings } from './settings.ts';

/** The settings of a configuration that holds no problem. `homeDir` (absolute) is what `~` stands for. */
export function assemble(configuration: Configuration, homeDir: string): FullSettings {
  const { arrivals, cards, thresholds, shelf } = configuration;
  return {
    volumes: configuration.volume.map((volume) => volumeSettings(volume, homeDir)),
    arrivals: {
      quiet: arrivals.quiet,
      quietWithoutStructure: arrivals.quiet_without_structure,
      quietRemote: arrivals.quiet_remote,
      stalledAfter: arrivals.stalled_after,
      sweepEvery: arrivals.sweep_every,
      fullSweepEvery: arrivals.full_sweep_every,
    },
    cards: { look: cards.look, under: cards.under.map((folder) => placePath(folder, homeDir)) },
    thresholds: {
      speedRaise: thresholds.speed_raise,
      speedClear: thresholds.speed_clear,
      raiseAfter: thresholds.raise_after,
      clearAfter: thresholds.clear_after,
      sessionSeconds: thresholds.session ?? null,
      wantedCopies: thresholds.wanted_copies ?? null,
    },
    page: configuration.page,
    log: configuration.log,
    shelves: shelf.map(({ name, path, rotate }) => ({ name, path: placePath(path, homeDir), rotate })),
    backups: configuration.backup.map((backup) => backupSettings(backup, homeDir)),
    plans: configuration.plan.map(planSettings),
    notify: configuration.notify.map(notifySettings),
  };
}

function backupSettings(backup: Configuration['backup'][number], homeDir: string): BackupSettings {
  const { from, to = [], nightly, window, reread, hashes, name, command, read_back: readBack } = backup;
  const program =
    name === undefined || command === undefined
      ? null
      : { name, argv: command, readBack: readBack === undefined ? null : placePath(readBack, homeDir) };
  return { from, to, command: program, nightly, windowSeconds: window, rereadSeconds: reread, hashes };
}

function volumeSettings(volume: Configuration['volume'][number], homeDir: string): VolumeSettings {
  const { layout, speed, speed_reserve: speedReserve, path, kinds, ...rest } = volume;
  return {
    ...rest,
    path: placePath(path, homeDir),
    kinds: assembleKinds(kinds ?? {}),
    layout: layout === undefined ? null : { ...layout, link: layout.link ?? null },
    speed: speed === undefined ? null : { readBps: speed.read, writeBps: speed.write },
    speedReserve,
  };
}

/** Without the kinds of which no folder is named. */
function assembleKinds(kinds: NonNullable<Configuration['volume'][number]['kinds']>): VolumeSettings['kinds'] {
  const named = Object.entries(kinds).filter(([, folders]) => folders !== undefined && folders.length > 0);
  return Object.fromEntries(named);
}

function planSettings(plan: Configuration['plan'][number]): PlanSettings {
  const { raster, rate, days, ...rest } = plan;
  return { ...rest, days: days.toSorted(), width: raster.width, height: raster.height, frameRate: rate };
}
