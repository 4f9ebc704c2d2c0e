import { setTimeout as sleep } from 'node:timers/promises';
import type { Argument, Command, Option } from 'commander';
import type { Snapshot } from '../core/present/snapshot.ts';
import { composeClient } from '../daemon/compose-client.ts';
import { exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';
import { stateDirFrom } from './state-dir.ts';
import { storedSnapshot } from './stored-snapshot.ts';

/** Whoever presses Tab waits for that long for a daemon that gives no answer. */
const PATIENCE_MS = 1_500;

/** What may stand at a place: words, or what the shell knows itself. */
type Offer = { words: readonly string[] } | 'files' | 'folders';

/** Where names come from: a daemon that runs, else what the last one stored. */
type Names = (state: string | undefined) => Promise<Snapshot | null>;

/**
 * What may follow words that were typed so far, the last of them unfinished, one a line: the scripts of `completion` ask for it. `:files`
 * and `:folders` stand for what the shell itself offers.
 */
export async function completeVerb(io: CliIo, program: Command, words: readonly string[]): Promise<number> {
  const typed = words.map(unquoted);
  const begun = typed.at(-1) ?? '';
  const offer = await offerFor(program, typed.slice(0, -1), begun, (state) => known(io, state));
  const lines =
    typeof offer === 'string' ? [`:${offer}`] : [...new Set(offer.words)].filter((word) => word.startsWith(begun));
  io.out(lines.map((line) => `${line}\n`).join(''));
  return exitCodes.ok;
}

/** A word as the shell has it in its line: with an open quote, or with backslashes. */
function unquoted(word: string): string {
  const quote = /^["']/.exec(word)?.[0];
  if (quote === undefined) return word.replaceAll(/\\(.)/g, '$1');
  const inner = word.slice(1);
  return inner.endsWith(quote) ? inner.slice(0, -1) : inner;
}

interface Place {
  command: Command;
  /** The option whose value is awaited. */
  pending: Option | null;
  /** How many arguments have been given. */
  given: number;
  state: string | undefined;
}

function placeBehind(program: Command, words: readonly string[]): Place {
  const place: Place = { command: program, pending: null, given: 0, state: undefined };
  for (const word of words) {
    if (place.pending !== null) {
      if (place.pending.long === '--state') place.state = word;
      place.pending = null;
      continue;
    }
    const option = place.command.options.find((one) => one.long === word || one.short === word);
    const verb = place.command.commands.find((one) => one.name() === word);
    if (option !== undefined) place.pending = option.required ? option : null;
    else if (verb !== undefined) place.command = verb;
    else place.given += 1;
  }
  return place;
}

async function offerFor(program: Command, words: readonly string[], begun: string, names: Names): Promise<Offer> {
  const { command, pending, given, state } = placeBehind(program, words);
  if (pending !== null) return valuesOf(pending.attributeName(), pending.flags, [], () => names(state));
  const verbs = command.createHelp().visibleCommands(command);
  if (begun.startsWith('-')) {
    const options = command.createHelp().visibleOptions(command);
    return { words: options.flatMap(({ long }) => long ?? []) };
  }
  if (command.commands.length > 0) return { words: given > 0 ? [] : verbs.map((one) => one.name()) };
  const argument = argumentAt(command, given);
  if (argument === undefined) return { words: [] };
  const named = command.name() === 'card' ? 'card' : argument.name().toLowerCase();
  return valuesOf(named, argument.name(), argument.argChoices ?? [], () => names(state));
}

function argumentAt({ registeredArguments }: Command, given: number): Argument | undefined {
  const last = registeredArguments.at(-1);
  return registeredArguments[given] ?? (last?.variadic === true ? last : undefined);
}

/** By what a value is called in the help: `<FILE>`, `--shelf`, `[PROJECT]`. */
async function valuesOf(
  name: string,
  form: string,
  choices: readonly string[],
  names: () => Promise<Snapshot | null>,
): Promise<Offer> {
  if (choices.length > 0) return { words: choices };
  if (form.includes('FILE')) return 'files';
  if (/DIR|FOLDER/.test(form)) return 'folders';
  const from = FROM[name];
  const snapshot = from === undefined ? null : await names();
  return { words: from === undefined || snapshot === null ? [] : from(snapshot) };
}

/** Names that can be given, from what stands in the snapshot. */
const FROM: Readonly<Record<string, (snapshot: Snapshot) => string[]>> = {
  volume: ({ volumes }) => volumes.map(({ name }) => name),
  shelf: ({ shelves = [] }) => shelves.map(({ name }) => name),
  project: ({ projects }) => projects.map(({ name }) => name),
  card: ({ cards = [] }) => cards.flatMap(({ id, name }) => [name, id]),
  drop: ({ cards = [] }) => cards.map(({ id }) => id),
  id: ({ advisories }) => advisories.map(({ code }) => code),
};

async function known(io: CliIo, state: string | undefined): Promise<Snapshot | null> {
  const client = composeClient(stateDirFrom(state, io));
  const asked = client.ask('/api/snapshot').catch(() => null);
  const live = (await Promise.race([asked, sleep(PATIENCE_MS, null, { ref: false })])) as Snapshot | null;
  if (live !== null) return live;
  const stored = storedSnapshot(client);
  return stored === null || stored === 'damaged' ? null : stored.snapshot;
}
