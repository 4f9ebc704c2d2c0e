import { readFileSync } from 'node:fs';
import { homedir } from 'node:os';
import { terminalJson } from '../core/present/escape.ts';
import type { FullSettings } from '../settings/full-settings.ts';
import { parseSettings } from '../settings/parse.ts';
import type { SettingsProblem } from '../settings/settings.ts';
import { visible } from '../settings/show.ts';
import { checkChannels, triedChannels } from './check-channels.ts';
import { type ExitCode, exitCodes } from './exit-codes.ts';
import { type CliIo, sentence } from './io.ts';

export interface CheckOptions {
  config: string;
  notify?: boolean;
  json?: boolean;
}

/** What the verb needs of the world. */
export interface CheckIo {
  /** The text of a file, UTF-8; throws node's error when it cannot be read. */
  readFile(path: string): string;
  out(text: string): void;
  err(text: string): void;
}

/** `headroomd check`, wired to the disk; with `notify` the channels of a file without problems are tried as well. */
export async function checkVerb(io: CliIo, { config, notify = false, json = false }: CheckOptions): Promise<ExitCode> {
  const readFile = (path: string) => readFileSync(path, 'utf8');
  if (json) return checkJson(io, { readFile, out: io.out, err: io.err }, { config, notify });
  const out = (text: string) => io.out(sentence(io, text.replace(/\n$/, '')));
  const code = checkConfig({ readFile, out, err: io.err }, config);
  return notify && code === exitCodes.ok ? checkChannels(io, readFile(config)) : code;
}

/** The same as JSON: `{ file, problems, channels }`; `channels` is `null` where none was tried. */
async function checkJson(io: CliIo, disk: CheckIo, { config, notify }: CheckOptions): Promise<ExitCode> {
  const text = readConfiguration(disk, config);
  if (text === null) return exitCodes.badConfiguration;
  const result = parseSettings(text, { homeDir: homedir() });
  const channels = result.ok && notify ? await triedChannels(io, result.settings.notify) : null;
  const problems = result.ok ? [] : result.problems;
  io.out(`${terminalJson({ file: config, problems, channels })}\n`);
  if (!result.ok) return exitCodes.badConfiguration;
  return (channels ?? []).every(({ sent }) => sent) ? exitCodes.ok : exitCodes.failed;
}

/** The text of a configuration; `null` when it cannot be read, which was said then. */
export function readConfiguration(io: Pick<CheckIo, 'readFile' | 'err'>, path: string): string | null {
  try {
    return io.readFile(path);
  } catch (thrown) {
    io.err(`${visible(path)}: ${whyUnread(thrown)}\n`);
    return null;
  }
}

/**
 * `headroomd check --config FILE`: every problem on a line of its own, then their number; or one sentence saying what
 * was understood. Nothing is looked up on the disk but the file itself.
 */
export function checkConfig(io: CheckIo, path: string, homeDir: string = homedir()): ExitCode {
  const file = visible(path);
  const text = readConfiguration(io, path);
  if (text === null) return exitCodes.badConfiguration;
  const result = parseSettings(text, { homeDir });
  if (result.ok) {
    io.out(`${file} is fine: ${understoodText(result.settings)}.\n`);
    return exitCodes.ok;
  }
  for (const problem of result.problems) io.out(`${problemLine(file, problem)}\n`);
  io.out(`${counted(result.problems.length, 'problem')} in ${file}. Nothing was started or changed.\n`);
  return exitCodes.badConfiguration;
}

/** `headroomd.toml:12:11  volume[0].reserve: expected ..., found ...  (did you mean ...?)`; safe to print. */
export function problemLine(file: string, problem: SettingsProblem): string {
  const place = problem.line === null ? file : `${file}:${problem.line}:${problem.column ?? 1}`;
  const hint = problem.hint === null ? '' : `  (${problem.hint})`;
  return visible(`${place}  ${problem.key}: expected ${problem.expected}, found ${problem.found}${hint}`);
}

function understoodText(settings: FullSettings): string {
  const parts = [
    listed(
      'volume',
      settings.volumes.map(({ name, path }) => `${name} at ${path}`),
    ),
    listed(
      'shelf',
      settings.shelves.map(({ name, path }) => `${name} at ${path}`),
    ),
    listed(
      'backup',
      settings.backups.map(({ from, to, command }) => {
        return `${from} to ${[...to, ...(command === null ? [] : [command.name])].join(' and ')}`;
      }),
    ),
    listed(
      'shoot plan',
      settings.plans.map(({ project, days }) => `${project} on ${counted(days.length, 'day')}`),
    ),
    listed(
      'channel',
      settings.notify.map(({ name, kind }) => (name === kind ? kind : `${name} by ${kind}`)),
    ),
  ];
  return parts.filter((part) => part !== null).join('; ');
}

function listed(noun: string, items: readonly string[]): string | null {
  return items.length === 0 ? null : `${counted(items.length, noun)} (${visible(items.join(', '))})`;
}

function counted(count: number, noun: string): string {
  const plural = noun === 'shelf' ? 'shelves' : `${noun}s`;
  return `${count} ${count === 1 ? noun : plural}`;
}

function whyUnread(thrown: unknown): string {
  const code = thrown instanceof Error && 'code' in thrown ? thrown.code : null;
  if (code === 'ENOENT') return 'there is no such file. Give the path of a configuration with --config FILE.';
  if (code === 'EACCES' || code === 'EPERM')
    return 'it may not be read. Give your user the right to read it (chmod u+r).';
  if (code === 'EISDIR') return 'this is a folder. Give the path of the file in it.';
  const why = visible(thrown instanceof Error ? thrown.message : String(thrown));
  return `it could not be read (${why}). Check the path and the disk it lies on.`;
}
