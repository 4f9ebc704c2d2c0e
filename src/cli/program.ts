import { Argument, Command, CommanderError, InvalidArgumentError, Option } from 'commander';
import { Fault, type FaultCode, messageOf } from '../core/fault.ts';
import { backupNowVerb, backupStatusVerb, restoreListVerb } from './backup.ts';
import { backupVerifyVerb } from './backup-verify.ts';
import { cardVerb } from './card.ts';
import { checkVerb } from './check.ts';
import { clipsVerb } from './clips.ts';
import { completeVerb } from './complete.ts';
import { completionVerb, SHELLS } from './completion.ts';
import { demoVerb } from './demo.ts';
import { type ExitCode, exitCodes } from './exit-codes.ts';
import { type CliIo, sentence, textWidth } from './io.ts';
import { measureVerb, sizeArgument } from './measure.ts';
import { countArgument, dayArgument, hoursArgument, planVerb, rasterArgument, rateArgument } from './plan.ts';
import { runVerb } from './run.ts';
import { forArgument, snoozeVerb } from './snooze.ts';
import { statusVerb } from './status.ts';
import { sweepVerb } from './sweep.ts';
import { version } from './version.ts';

const codesHelp = `
Exit codes:
  0  done
  1  failed; the message says why
  2  the command line cannot be used
  3  no daemon runs on this state folder
  4  the configuration has problems
  5  another daemon already works on this state folder
  6  the state folder cannot be used
  7  copies that were read again are not all there and as they were written`;

const codeOf: Partial<Record<FaultCode, ExitCode>> = {
  usage: exitCodes.usage,
  'bad-configuration': exitCodes.badConfiguration,
  'no-daemon': exitCodes.noDaemon,
  'daemon-unreachable': exitCodes.noDaemon,
  'state-locked': exitCodes.stateLocked,
  'state-unwritable': exitCodes.stateUnusable,
  'state-full': exitCodes.stateUnusable,
  'state-newer': exitCodes.stateUnusable,
};

/** The whole command line: arguments in, exit code out. Never throws. */
export async function runCli(args: string[], io: CliIo): Promise<number> {
  let code: number = exitCodes.ok;
  const program = buildProgram(io, (ended) => {
    code = ended;
  });
  try {
    await program.parseAsync(args, { from: 'user' });
    return code;
  } catch (error) {
    return failure(error, io);
  }
}

function failure(error: unknown, io: CliIo): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? exitCodes.ok : exitCodes.usage;
  if (error instanceof Fault) {
    io.err(sentence({ terminal: io.tellsProgress, columns: io.columns }, `headroomd: ${error.message}`));
    return codeOf[error.code] ?? exitCodes.failed;
  }
  // A defect of ours: here the stack is what helps.
  io.err(
    `headroomd: this should not happen, please report it: ${error instanceof Error ? error.stack : messageOf(error)}\n`,
  );
  return exitCodes.failed;
}

/** Every verb with its options; `ended` hears the exit code of the one that was called. */
export function buildProgram(io: CliIo, ended: (code: number) => void): Command {
  const program = new Command('headroomd')
    .description(
      'Watches footage ingest and says, before it matters, whether the volume can play, hold and survive it.',
    )
    .version(version)
    .configureOutput({
      writeOut: io.out,
      writeErr: (text) => io.err(text.replace(/^error: /, 'headroomd: ')),
      getOutHelpWidth: () => textWidth(io),
      getErrHelpWidth: () => textWidth(io),
    })
    .showHelpAfterError('(headroomd --help lists the verbs, headroomd VERB --help their options)')
    .exitOverride()
    .addHelpText('after', codesHelp);

  verb(program, 'run', 'watch volumes and stay in the foreground', 'headroomd run /media/stripe')
    .argument('[FOLDER...]', 'folders to watch; each is a working volume or lies on one')
    .option('--config <FILE>', 'settings in TOML (see config/headroomd.toml)')
    .addOption(stateOption())
    .option('--port <N>', 'port of the status page on 127.0.0.1; 0 takes any free one', portNumber)
    .action(async (folders: string[], options) => ended(await runVerb(io, folders, options)));
  verb(program, 'status', 'say how things stand, on one screen', 'headroomd status --json')
    .addOption(stateOption())
    .addOption(
      new Option(
        '--report',
        'tell what the last 24 hours brought: arrivals, backups, advisories, and what would be lost',
      ).conflicts('watch'),
    )
    .option('--watch', 'go on until Ctrl-C, on the same screen; in a pipe a screen for each change')
    .option('--json', 'print the whole snapshot, or report, as JSON; with --watch one a line')
    .action(async (options) => ended(await statusVerb(io, options)));
  verb(program, 'clips', 'list the clips that have arrived', 'headroomd clips --project "Tidewater Sessions"')
    .addOption(stateOption())
    .option('--project <P>', 'only clips of this project')
    .option('--json', 'print them as JSON')
    .action(async (options) => ended(await clipsVerb(io, options)));
  verb(program, 'plan', 'say whether the coming shoot fits, plays and gets backed up', 'headroomd plan --cameras 6')
    .argument('[PROJECT]', 'whose shoot plan; the one that begins first when left out')
    .addOption(stateOption())
    .option('--volume <NAME>', 'on which volume')
    .option('--cameras <N>', 'with so many cameras', countArgument)
    .option('--format <F>', 'in this recording format, like "ProRes 422 HQ"')
    .option('--raster <WxH>', 'in this raster, like 3840x2160', rasterArgument)
    .option('--rate <R>', 'at so many frames per second, like 25 or 24000/1001', rateArgument)
    .option('--hours <H>', 'so many hours a day from each camera', hoursArgument)
    .option('--days <N>', 'so many days, from today or --from on', countArgument)
    .option('--from <DAY>', 'the first day, like 2027-03-04', dayArgument)
    .addOption(new Option('--keep', 'count it as planned from now on').conflicts('forget'))
    .option('--forget', 'count what was kept for the project no longer as planned')
    .option('--json', 'print all figures as JSON')
    .action(async (project: string | undefined, options) => ended(await planVerb(io, project, options)));
  verb(program, 'measure', 'measure how fast a volume really is; takes a minute or two', 'headroomd measure stripe')
    .argument('<VOLUME>', 'the name of a watched volume, or its folder')
    .addOption(stateOption())
    .option('--size <SIZE>', 'how much to write and read, like "8 GB"; at most half of the room', sizeArgument)
    .option('--anyway', 'also while something else goes on there')
    .option('--json', 'print all figures as JSON')
    .action(async (volume: string, options) => ended(await measureVerb(io, volume, options)));
  verb(program, 'sweep', 'read every folder again now, for what events have missed', 'headroomd sweep stripe --wait')
    .argument('[VOLUME]', 'only of this volume, by its name or folder')
    .addOption(stateOption())
    .option('--wait', 'stay until it is through; 0 only if every folder could be read')
    .option('--json', 'print it as JSON')
    .action(async (volume: string | undefined, options) => ended(await sweepVerb(io, volume, options)));
  verb(program, 'card', 'list cards: what of them arrived, and what copies it has', 'headroomd card SALT_A')
    .argument('[NAME]', 'only this card or list, by its name or id')
    .addOption(stateOption())
    .option('--json', 'print them as JSON, every missing file by name')
    .addOption(
      new Option('--kept', 'the card NAME is kept as it is, with its footage on it').conflicts(['notKept', 'drop']),
    )
    .addOption(new Option('--not-kept', 'the card NAME is not kept any more').conflicts('drop'))
    .option('--drop <ID>', 'hear no more of this one; no file is touched')
    .action(async (name: string | undefined, options) => ended(await cardVerb(io, name, options)));
  verb(
    program,
    'snooze',
    'have advisories quiet for a while, or as known; without ID list those that are',
    'headroomd snooze t68js --for 4h --reason "shelf-b comes at noon"',
  )
    .argument('[ID...]', 'as status shows it behind each advisory')
    .addOption(stateOption())
    .addOption(new Option('--for <TIME>', 'for so long, like 4h or 2d').argParser(forArgument).conflicts('until'))
    .option('--until <TIME>', 'until then, like 18:00 or "2027-03-05 18:00"')
    .addOption(new Option('--known', 'until it is over or gets worse; takes a reason').conflicts(['for', 'until']))
    .option('--reason <TEXT>', 'why, for whoever looks later')
    .addOption(new Option('--lift', 'no longer: it is told again').conflicts(['for', 'until', 'known', 'reason']))
    .option('--json', 'print them as JSON')
    .action(async (names: string[], options) => ended(await snoozeVerb(io, names, options)));
  const backup = program.command('backup').description('back up to the shelves, and see what lies there');
  verb(backup, 'now', 'begin the backups that the configuration plans, now', 'headroomd backup now shelf-a')
    .argument('[SHELF]', 'only to this shelf')
    .addOption(stateOption())
    .option('--adopt', 'what is at the path of SHELF now is the shelf')
    .option('--wait', 'stay until it has ended; 0 only if nothing was left behind')
    .option('--json', 'print it as JSON')
    .action(async (shelf: string | undefined, options) => ended(await backupNowVerb(io, shelf, options)));
  verb(backup, 'status', 'say what lies on the shelves, and how backups go', 'headroomd backup status')
    .addOption(stateOption())
    .option('--json', 'print it as JSON')
    .action(async (options) => ended(await backupStatusVerb(io, options)));
  verb(backup, 'verify', 'read every copy again now, whatever its age', 'headroomd backup verify shelf-a --wait')
    .argument('[SHELF]', 'only on this shelf')
    .addOption(stateOption())
    .option('--project <NAME>', 'only copies of this project')
    .option('--wait', 'stay until it has ended, and tell by the exit code how it came out')
    .option('--anew', 'read also what one that was ended in the middle had read')
    .addOption(new Option('--end', 'end what goes on; what was read stays read').conflicts(['wait', 'anew', 'project']))
    .option('--json', 'print it as JSON')
    .action(async (shelf: string | undefined, options) => ended(await backupVerifyVerb(io, shelf, options)));
  verb(backup, 'restore-list', 'list what is left on the shelves alone', 'headroomd backup restore-list "Lock Keepers"')
    .argument('[PROJECT]', 'only of this project')
    .addOption(stateOption())
    .option('--shelf <NAME>', 'only on this shelf')
    .option('--json', 'print it as JSON')
    .action(async (project: string | undefined, options) => ended(await restoreListVerb(io, project, options)));
  verb(program, 'check', 'list every problem of a configuration', 'headroomd check --config headroomd.toml')
    .requiredOption('--config <FILE>', 'settings in TOML')
    .option('--notify', 'also send a test message through each channel, and say what became of it')
    .option('--json', 'print the problems, and what became of the messages, as JSON')
    .action(async (options) => ended(await checkVerb(io, options)));
  verb(program, 'demo', 'show a scripted shoot arriving on a temporary folder', 'headroomd demo --once')
    .option('--once', 'end by itself after about a minute, with a summary')
    .action(async (options) => ended(await demoVerb(io, options)));
  verb(program, 'completion', 'print what a shell reads to complete by Tab', 'source <(headroomd completion bash)')
    .addArgument(new Argument('<SHELL>', 'which one').choices(SHELLS))
    .action((shell: (typeof SHELLS)[number]) => ended(completionVerb(io, shell)));
  // What those scripts ask.
  program
    .command('complete', { hidden: true })
    .argument('[WORDS...]')
    .action(async (words: string[]) => ended(await completeVerb(io, program, words)));
  return program;
}

function verb(program: Command, name: string, description: string, example: string): Command {
  return program.command(name).description(description).addHelpText('after', `\nExample:\n  ${example}`);
}

function stateOption(): Option {
  return new Option('--state <DIR>', 'where state is kept (default: ~/.local/state/headroomd)');
}

function portNumber(text: string): number {
  const port = /^\d+$/.test(text) ? Number(text) : Number.NaN;
  if (!(port <= 65_535)) throw new InvalidArgumentError('a port is a whole number from 0 to 65535.');
  return port;
}
