import { readFileSync } from 'node:fs';
import { homedir } from 'node:os';
import { resolve } from 'node:path';
import { Fault } from '../core/fault.ts';
import { lookAtFolder } from '../daemon/compose.ts';
import { settingsForFolders, withFolders } from '../settings/folders.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { parseSettings } from '../settings/parse.ts';
import type { VolumeSettings } from '../settings/settings.ts';
import { problemLine, readConfiguration } from './check.ts';
import type { CliIo } from './io.ts';

export interface RunOptions {
  config?: string;
  state?: string;
  port?: number;
}

/**
 * What `run` runs with: of the configuration, the folders that were named, and the options.
 * @returns `null` when the configuration has problems; each was said to `io.err`, with its line
 * @throws Fault `usage`: there is nothing to watch
 */
export function settingsForRun(
  io: Pick<CliIo, 'cwd' | 'err'>,
  folders: string[],
  { config, port }: RunOptions,
): FullSettings | null {
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

function fromFile(io: Pick<CliIo, 'cwd' | 'err'>, config: string, folders: string[]): FullSettings | null {
  const path = resolve(io.cwd, config);
  const text = readConfiguration({ readFile: (file) => readFileSync(file, 'utf8'), ...io }, path);
  if (text === null) return null;
  const result = parseSettings(text, { homeDir: homedir(), foldersGiven: folders.length > 0 });
  if (result.ok) return withFolders(result.settings, folders);
  for (const problem of result.problems) io.err(`${problemLine(path, problem)}\n`);
  return null;
}

/**
 * The folders named by hand, absolute and without links, so that one is not watched under two names. One that is not there
 * is most likely a slip of the pen: of several it is waited for; when there is none at all, nothing starts. (A volume in
 * a configuration may come later.)
 */
export async function realFolders(io: Pick<CliIo, 'cwd'>, folders: readonly string[]): Promise<string[]> {
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
export function refuseStateInside(stateDir: string, volumes: readonly VolumeSettings[]): void {
  const around = volumes.find(({ path }) => stateDir === path || stateDir.startsWith(path === '/' ? '/' : `${path}/`));
  if (around === undefined) return;
  throw new Fault(
    'state-unwritable',
    `The state folder ${stateDir} lies in the watched folder ${around.path}, and nothing is written there. Name another with --state DIR.`,
  );
}
