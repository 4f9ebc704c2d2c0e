import { Fault, messageOf } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import { display } from '../core/present/escape.ts';
import { composeLog, type Daemon, type DaemonOptions, startDaemon } from '../daemon/compose.ts';
import { tryChannelSettings } from '../daemon/compose-notify.ts';
import { composeService } from '../daemon/compose-service.ts';
import type { VolumeMount } from '../daemon/compose-volume.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import type { VolumeSettings } from '../settings/settings.ts';
import { renderVolumeLine } from '../settings/volume-line.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { type RunOptions, realFolders, refuseStateInside, settingsForRun } from './run-settings.ts';
import { takeSignals } from './signals.ts';
import { stateDirFrom } from './state-dir.ts';
import { version } from './version.ts';

/** `headroomd run`: starts the daemon and stays until SIGINT or SIGTERM; SIGHUP has it read its configuration again. */
export async function runVerb(io: CliIo, folders: string[], options: RunOptions): Promise<number> {
  const real = await realFolders(io, folders);
  const settings = settingsForRun(io, real, options);
  if (settings === null) {
    io.err('Nothing was started. Correct these lines and start again.\n');
    return exitCodes.badConfiguration;
  }
  const stateDir = stateDirFrom(options.state, io);
  refuseStateInside(stateDir, settings.volumes);
  await stay(settings, {
    ...{ io, stateDir, log: logFor(io, settings) },
    read: (err) => settingsForRun({ ...io, err }, real, options),
  });
  return exitCodes.ok;
}

interface Stay {
  io: CliIo;
  stateDir: string;
  log: Log;
  /** The settings as they are now; `null` when they have problems, which were said then. */
  read: (err: CliIo['err']) => FullSettings | null;
}

const isTerminal = () => process.stderr.isTTY === true;

function logFor(io: CliIo, settings: FullSettings): Log {
  return composeLog(settings.log.level, isTerminal(), isTerminal() && io.env['NO_COLOR'] === undefined);
}

async function stay(first: FullSettings, world: Stay): Promise<void> {
  const { log } = world;
  const service = composeService(log);
  const signals = takeSignals(log, isTerminal());
  try {
    let settings = first;
    let daemon = await begin(settings, world);
    for (;;) {
      service.running(daemon.health);
      if ((await signals.next()) === 'stop') break;
      service.reloading();
      const next = await readAgain(world);
      if (next === null) continue;
      await daemon.stop();
      ({ daemon, settings } = await beginAnew(next, settings, world));
    }
    service.stopping();
    await daemon.stop();
    log.info({}, 'Stopped.');
  } finally {
    await service.close();
  }
}

async function begin(settings: FullSettings, { io, stateDir, log }: Stay): Promise<Daemon> {
  const daemon = await startDaemon({
    ...{ settings, stateDir, version, zone: io.zone },
    // systemd.exec(5), RuntimeDirectory: several are separated by colons.
    runtimeDir: io.env['RUNTIME_DIRECTORY']?.split(':')[0],
    log: logFor(io, settings),
    ruleTold: (volume, told) => tellRule(log, volume, told),
  });
  tellStart(log, settings.volumes, stateDir, daemon);
  return daemon;
}

/** All of the new settings, or `null`: then the log says why, and those from before stay. */
async function readAgain({ io, stateDir, log, read }: Stay): Promise<FullSettings | null> {
  log.info({ event: 'reload', signal: 'SIGHUP' }, 'SIGHUP: the configuration is read again.');
  const why: string[] = [];
  try {
    const settings = read((text) => why.push(text.trim()));
    if (settings !== null) {
      refuseStateInside(stateDir, settings.volumes);
      await tryChannelSettings(settings.notify, io.zone, io.env);
      return settings;
    }
  } catch (error) {
    why.push(messageOf(error));
  }
  for (const line of why) log.error({ event: 'reload-refused' }, line);
  log.error(
    { event: 'reload-kept' },
    'Nothing was changed: the configuration from before stays in force. Correct what is named above and send SIGHUP again.',
  );
  return null;
}

/** With the new settings, else with those from before: what only shows when it starts (a state folder, say) may refuse. */
async function beginAnew(
  next: FullSettings,
  before: FullSettings,
  world: Stay,
): Promise<{ daemon: Daemon; settings: FullSettings }> {
  const { log } = world;
  try {
    const daemon = await begin(next, world);
    log.info({ event: 'reloaded' }, 'The new configuration is in force.');
    return { daemon, settings: next };
  } catch (error) {
    log.error(
      { event: 'reload-kept' },
      `The new configuration cannot be started with, the one from before stays in force: ${messageOf(error)}`,
    );
  }
  try {
    return { daemon: await begin(before, world), settings: before };
  } catch (error) {
    // Not the exit code of what was thrown: started anew by whoever watches us it may well go on.
    throw new Fault('failed', `Neither configuration could be started with again: ${messageOf(error)}`, error);
  }
}

function tellStart(log: Log, volumes: readonly VolumeSettings[], stateDir: string, daemon: Daemon): void {
  for (const volume of volumes) {
    log.info(
      { event: 'watching', volume: volume.name, path: volume.path },
      `Watching ${display(volume.name)}: ${display(volume.path)}${lying(daemon.mounts.get(volume.name) ?? null, volume.path)}.`,
    );
  }
  log.info({ event: 'state', stateDir }, `State is kept in ${display(stateDir)}; nothing is written anywhere else.`);
  // The page's address carries its token: for the person who asks, not for a log that others may read.
  const page = daemon.page === null ? 'there is no page' : 'it also gives the address of the page';
  log.info({ event: 'started' }, `To look: headroomd status${stateDirHint(stateDir)} (${page}).`);
}

function lying(mount: VolumeMount | null, path: string): string {
  if (mount === null) return '';
  const where =
    mount.mountPoint === path ? 'a volume of its own' : `on the volume mounted at ${display(mount.mountPoint)}`;
  return `, ${where} (${display(mount.fileSystem)}, ${display(mount.source)})`;
}

function stateDirHint(stateDir: string): string {
  return stateDir === stateDirFrom(undefined, { env: process.env, cwd: '/' }) ? '' : ` --state ${display(stateDir)}`;
}

type RuleTold = Parameters<DaemonOptions['ruleTold']>[1];

const ruleWords: Readonly<Record<string, string>> = {
  '*': 'each of its first-level folders is a project',
  '.': 'the folder itself is one project',
};

function tellRule(log: Log, volume: VolumeSettings, { rule, guessed, evidence, suggestion }: RuleTold): void {
  const what = ruleWords[rule] ?? `projects are the folders ${display(rule)}`;
  if (!guessed) {
    log.info({ volume: volume.name, rule }, `${display(volume.name)}: ${what}, as set.`);
    return;
  }
  const rest = evidence.length > 4 ? ` and ${evidence.length - 4} more` : '';
  const seen = evidence.length === 0 ? '' : ` (${display(evidence.slice(0, 4).join(', '))}${rest})`;
  const other = rule === '.' ? '*' : '.';
  log.info(
    { volume: volume.name, rule, evidence },
    `${display(volume.name)}: ${what}${seen}. The line of configuration to change that: ${renderVolumeLine({ volume: volume.name, projects: other })}`,
  );
  if (suggestion !== null) log.info({ volume: volume.name }, `${display(volume.name)}: ${display(suggestion)}.`);
}
