import { readFileSync } from 'node:fs';
import { homedir } from 'node:os';
import { resolve } from 'node:path';
import { Fault } from '../core/fault.ts';
import type { Log } from '../core/ports.ts';
import { display } from '../core/present/escape.ts';
import { composeLog, type Daemon, type DaemonOptions, lookAtFolder, startDaemon } from '../daemon/compose.ts';
import type { VolumeMount } from '../daemon/compose-volume.ts';
import { settingsForFolders, withFolders } from '../settings/folders.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { parseSettings } from '../settings/parse.ts';
import type { VolumeSettings } from '../settings/settings.ts';
import { renderVolumeLine } from '../settings/volume-line.ts';
import { problemLine, readConfiguration } from './check.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { stateDirFrom } from './state-dir.ts';
import { version } from './version.ts';

export interface RunOptions {
  config?: string;
  state?: string;
  port?: number;
}

/** `headroomd run`: starts the daemon and stays until SIGINT or SIGTERM. */
export async function runVerb(io: CliIo, folders: string[], options: RunOptions): Promise<number> {
  const settings = settingsFrom(io, await realFolders(io, folders), options);
  if (settings === null) return exitCodes.badConfiguration;
  const stateDir = stateDirFrom(options.state, io);
  refuseStateInside(stateDir, settings.volumes);
  const toTerminal = process.stderr.isTTY === true;
  const log = composeLog(settings.log.level, toTerminal, toTerminal && io.env['NO_COLOR'] === undefined);
  const stopAsked = stopSignal(log);
  const daemon = await startDaemon({
    settings,
    stateDir,
    version,
    zone: io.zone,
    log,
    ruleTold: (volume, told) => tellRule(log, volume, told),
  });
  tellStart(log, settings.volumes, stateDir, daemon);
  await stopAsked;
  await daemon.stop();
  log.info({}, 'Stopped.');
  return exitCodes.ok;
}

function settingsFrom(io: CliIo, folders: string[], { config, port }: RunOptions): FullSettings | null {
  const settings = config === undefined ? fromFolders(folders) : fromFile(io, config, folders);
  if (settings === null || port === undefined) return settings;
  return { ...settings, page: { ...settings.page, enabled: true, port } };
}

function fromFolders(folders: string[]): FullSettings {
  if (folders.length === 0) {
    throw new Fault(
      'usage',
      'nothing to watch: name a folder (headroomd run /media/stripe) or a configuration (--config FILE).',
    );
  }
  return settingsForFolders(folders);
}

function fromFile(io: CliIo, config: string, folders: string[]): FullSettings | null {
  const path = resolve(io.cwd, config);
  const text = readConfiguration({ readFile: (file) => readFileSync(file, 'utf8'), ...io }, path);
  if (text === null) return null;
  const result = parseSettings(text, { homeDir: homedir(), foldersGiven: folders.length > 0 });
  if (result.ok) return withFolders(result.settings, folders);
  for (const problem of result.problems) io.err(`${problemLine(path, problem)}\n`);
  io.err('Nothing was started. Correct these lines and start again.\n');
  return null;
}

/**
 * The folders named by hand, absolute and without links, so that one is not watched under two names. One that is not there
 * is most likely a slip of the pen: of several it is waited for; when there is none at all, nothing starts. (A volume in
 * a configuration may come later.)
 */
async function realFolders(io: CliIo, folders: readonly string[]): Promise<string[]> {
  const looked = await Promise.all(folders.map((folder) => lookAtFolder(resolve(io.cwd, folder))));
  const reasons = looked.flatMap(({ why }) => why ?? []);
  if (folders.length > 0 && reasons.length === folders.length) {
    throw new Fault(
      'folder-missing',
      `${reasons.join(' ')} Check the name, and that the volume is mounted. A volume that comes later belongs in a configuration (--config FILE).`,
    );
  }
  return looked.map(({ path }) => path);
}

/** State inside a watched folder would be footage, and every write of ours an arrival. */
function refuseStateInside(stateDir: string, volumes: readonly VolumeSettings[]): void {
  const around = volumes.find(({ path }) => stateDir === path || stateDir.startsWith(path === '/' ? '/' : `${path}/`));
  if (around === undefined) return;
  throw new Fault(
    'state-unwritable',
    `The state folder ${stateDir} lies in the watched folder ${around.path}, and nothing is written there. Name another with --state DIR.`,
  );
}

/** The first SIGINT or SIGTERM stops in order; a second one ends at once. */
function stopSignal(log: Log): Promise<void> {
  return new Promise((resolve) => {
    let asked = false;
    for (const signal of ['SIGINT', 'SIGTERM'] as const) {
      process.on(signal, () => {
        if (asked) process.exit(exitCodes.failed);
        asked = true;
        log.info({ signal }, `${signal}: stopping.`);
        resolve();
      });
    }
  });
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
