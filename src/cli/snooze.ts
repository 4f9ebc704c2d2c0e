import { InvalidArgumentError } from 'commander';
import { Fault } from '../core/fault.ts';
import { snoozedCount, snoozedLines } from '../core/present/advisory-words.ts';
import { terminalJson } from '../core/present/escape.ts';
import type { AdvisorySnapshot } from '../core/present/snapshot.ts';
import { wrap } from '../core/present/text.ts';
import { isoWithOffset } from '../core/units.ts';
import { composeClient } from '../daemon/compose-client.ts';
import { parseDuration } from '../settings/units.ts';
import { exitCodes } from './exit-codes.ts';
import { type CliIo, textWidth } from './io.ts';
import { personName } from './person.ts';
import { noDaemon, stateDirFrom } from './state-dir.ts';
import { readTime, TIME_FORMS } from './until-argument.ts';

export interface SnoozeOptions {
  state?: string;
  json?: boolean;
  /** Seconds. */
  for?: number;
  until?: string;
  known?: boolean;
  reason?: string;
  lift?: boolean;
}

interface Told {
  advisories: AdvisorySnapshot[];
  kept: boolean;
}

/** `headroomd snooze`: lists what is quiet; or a person says that advisories are known, are to be quiet for a while, or no longer. */
export async function snoozeVerb(io: CliIo, names: readonly string[], options: SnoozeOptions): Promise<number> {
  const stateDir = stateDirFrom(options.state, io);
  const client = composeClient(stateDir);
  const answered = <Answer>(answer: unknown): Answer => {
    if (answer === null) throw new Fault('no-daemon', noDaemon(stateDir, options.state));
    return answer as Answer;
  };
  const ask = whatIsAsked(io, names, options);
  if (ask === null) {
    const { at, advisories } = answered<{ at: string; advisories: AdvisorySnapshot[] }>(
      await client.ask('/api/snooze'),
    );
    io.out(options.json ? `${terminalJson(advisories)}\n` : listWords(advisories, at, textWidth(io)));
    return exitCodes.ok;
  }
  const told = answered<Told | { problem: string }>(await client.tell(ask.path, ask.body));
  if ('problem' in told) throw new Fault('failed', `${told.problem}. Nothing was changed.`);
  io.out(options.json ? `${terminalJson(told.advisories)}\n` : toldWords(io, told.advisories, options));
  if (told.kept) return exitCodes.ok;
  throw new Fault(
    'failed',
    'it holds, but the state folder does not take it now: a restart before it does forgets it.',
  );
}

/** How long it is to be quiet, from the command line, in seconds. */
export function forArgument(text: string): number {
  const reading = parseDuration(text);
  if (reading.ok && reading.value > 0) return reading.value;
  const hint = reading.ok || reading.hint === null ? '' : `; ${reading.hint}`;
  throw new InvalidArgumentError(`a time that passes is like "4h", "2d" or "1 h 30 min"${hint}.`);
}

/** `null`: only the list. */
function whatIsAsked(
  io: CliIo,
  names: readonly string[],
  options: SnoozeOptions,
): { path: string; body: object } | null {
  const { lift = false, known = false, reason, until } = options;
  const isEnded = options.for !== undefined || until !== undefined;
  if (names.length === 0) {
    if (!lift && !known && !isEnded && reason === undefined) return null;
    throw new Fault('usage', 'name the advisory: headroomd snooze ID (status shows the ID behind each of them)');
  }
  const by = personName();
  if (lift) return { path: '/api/snooze/lift', body: { names, by } };
  if (!known && !isEnded) {
    const ways = '--for 4h, --until 18:00, or --known --reason TEXT where it is to be quiet until it is over';
    throw new Fault('usage', `say for how long: ${ways}`);
  }
  if (known && (reason ?? '').trim() === '') throw new Fault('usage', 'say why it is known: --known --reason TEXT');
  const end = known ? null : endOf(io, options, Date.now());
  return { path: '/api/snooze', body: { names, until: end, reason: reason ?? '', by } };
}

function endOf(io: CliIo, { for: seconds, until = '' }: SnoozeOptions, now: number): number {
  if (seconds !== undefined) return now + seconds * 1000;
  const reading = readTime(until, now, io.zone);
  if (reading.ok) return reading.value;
  const hint = reading.hint === null ? '' : ` (${reading.hint})`;
  throw new Fault('usage', `--until ${until} is no time${hint}: a time is like ${TIME_FORMS}`);
}

function listWords(advisories: readonly AdvisorySnapshot[], at: string, width: number): string {
  const count = snoozedCount(advisories);
  if (count === null) return `${wrap('Nothing is snoozed: all that stands is told.', width).join('\n')}\n`;
  const lift = 'To be told again of one: headroomd snooze ID --lift';
  const lines = advisories.flatMap((one) => snoozedLines(one, at, width));
  return `${[`${count}:`, ...lines, ...wrap(lift, width)].join('\n')}\n`;
}

function toldWords(io: CliIo, advisories: readonly AdvisorySnapshot[], { lift = false }: SnoozeOptions): string {
  const width = textWidth(io);
  if (advisories.length === 0) return 'It was over meanwhile: there is nothing to be quiet about.\n';
  const at = isoWithOffset(Date.now(), io.zone);
  const lines = advisories.flatMap((one) =>
    lift ? wrap(`${one.message} (${one.code}.)`, width, '  ') : snoozedLines(one, at, width),
  );
  return `${[lift ? 'Told again:' : 'Noted:', ...lines].join('\n')}\n`;
}
