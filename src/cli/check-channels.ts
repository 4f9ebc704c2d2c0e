import { homedir } from 'node:os';
import { display } from '../core/present/escape.ts';
import { composeChannels, tryChannels } from '../daemon/compose-notify.ts';
import { parseSettings } from '../settings/parse.ts';
import { type ExitCode, exitCodes } from './exit-codes.ts';
import type { CliIo } from './io.ts';

/**
 * `headroomd check --notify`: one message, marked as a test, through each channel of a configuration without problems, and
 * a line for each. Throws Fault `bad-configuration` where a secret or a certificate cannot be used.
 */
export async function checkChannels(io: CliIo, text: string): Promise<ExitCode> {
  const result = parseSettings(text, { homeDir: homedir() });
  const channels = result.ok ? result.settings.notify : [];
  if (channels.length === 0) {
    io.out('No channel is named ([[notify]]): advisories are told in the log, on the page and by headroomd status.\n');
    return exitCodes.ok;
  }
  let failed = 0;
  await tryChannels(composeChannels(channels, io.zone, io.env), io.zone, (name, outcome) => {
    if (!outcome.sent) failed += 1;
    io.out(`${display(name)}: ${outcome.sent ? 'a test message was sent.' : `not sent. ${outcome.message}`}\n`);
  });
  return failed === 0 ? exitCodes.ok : exitCodes.failed;
}
