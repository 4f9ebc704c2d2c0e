import { homedir } from 'node:os';
import { display } from '../core/present/escape.ts';
import { composeChannels, tryChannels } from '../daemon/compose-notify.ts';
import type { NotifySettings } from '../settings/full-settings.ts';
import { parseSettings } from '../settings/parse.ts';
import { type ExitCode, exitCodes } from './exit-codes.ts';
import { type CliIo, sentence } from './io.ts';

/**
 * `headroomd check --notify`: one message, marked as a test, through each channel of a configuration without problems, and
 * a line for each. Throws Fault `bad-configuration` where a secret or a certificate cannot be used.
 */
export async function checkChannels(io: CliIo, text: string): Promise<ExitCode> {
  const result = parseSettings(text, { homeDir: homedir() });
  const channels = result.ok ? result.settings.notify : [];
  if (channels.length === 0) {
    const told = 'advisories are told in the log, on the page and by headroomd status';
    io.out(sentence(io, `No channel is named ([[notify]]): ${told}.`));
    return exitCodes.ok;
  }
  const tried = await triedChannels(io, channels, ({ name, why }) =>
    io.out(sentence(io, `${name}: ${why === null ? 'a test message was sent.' : `not sent. ${why}`}`)),
  );
  return tried.every(({ sent }) => sent) ? exitCodes.ok : exitCodes.failed;
}

/** What became of a test message. */
export interface TriedChannel {
  name: string;
  sent: boolean;
  /** Why it was not sent; `null`: it was. */
  why: string | null;
}

/** One message through each channel; each is told as soon as it is known. */
export async function triedChannels(
  io: CliIo,
  channels: readonly NotifySettings[],
  tell: (tried: TriedChannel) => void = () => {},
): Promise<TriedChannel[]> {
  const all: TriedChannel[] = [];
  await tryChannels(composeChannels(channels, io.zone, io.env), io.zone, (name, outcome) => {
    const tried = { name: display(name), sent: outcome.sent, why: outcome.sent ? null : display(outcome.message) };
    all.push(tried);
    tell(tried);
  });
  return all;
}
