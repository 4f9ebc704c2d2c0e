import { describe, expect, test } from 'vitest';
import { commandOutcome } from '../../../src/core/advise/rules/command-failed.ts';
import { NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import type { CommandExit } from '../../../src/core/backup/command-port.ts';
import {
  afterCommand,
  type CommandRun,
  newCommandRun,
  unsaid,
  wasCommandRunning,
} from '../../../src/core/backup/command-run.ts';
import { commandSentence, reportedSentence } from '../../../src/core/present/command-words.ts';
import { commandSnapshot } from '../../../src/core/present/snapshot-commands.ts';
import { isoWithOffset } from '../../../src/core/units.ts';
import { NOON } from '../samples.ts';

const BEGUN: CommandRun = {
  ...newCommandRun({ volume: 'stripe', name: 'tape', cause: 'nightly', startedAt: NOON }),
  ...{ stage: 'running', wanted: { files: 3, bytes: 3e9 } },
};
const SAID = { ...BEGUN, reported: { files: 2, bytes: 2e9 } };
const endOf = (run: CommandRun, exit: Omit<CommandExit, 'errorText'> & { errorText?: string }, isStopping = false) =>
  afterCommand(run, { exit: { errorText: '', ...exit } as CommandExit, program: '/usr/local/bin/to-tape', isStopping });

describe('how a program ended', () => {
  test.each<[string, Parameters<typeof endOf>, string | null, RegExp | null]>([
    ['well', [SAID, { is: 'exited', code: 0 } as never], null, null],
    [
      'well, without a word',
      [BEGUN, { is: 'exited', code: 0 } as never],
      'command-silent',
      /Let it print a line of JSON/,
    ],
    [
      'with a code',
      [SAID, { is: 'exited', code: 3, errorText: 'no tape' } as never],
      'command-failed',
      /ended with code 3.*Its last words: no tape$/,
    ],
    ['killed', [SAID, { is: 'killed', signal: 'SIGKILL' } as never], 'command-killed', /SIGKILL/],
    ['missing', [BEGUN, { is: 'not-started', code: 'ENOENT' } as never], 'command-missing', /is not there/],
    ['not to be run', [BEGUN, { is: 'not-started', code: 'EACCES' } as never], 'command-not-permitted', /chmod \+x/],
    ['no program', [BEGUN, { is: 'not-started', code: 'ETXTBSY' } as never], 'command-unusable', /Try by hand/],
    ['too talkative', [SAID, { is: 'flooded' }], 'command-floods', /one line of JSON/],
    ['its time over, silent', [BEGUN, { is: 'ended' }], 'command-hangs', /longer window/],
    ['unwatched', [SAID, { is: 'lost', how: 'SIGKILL' } as never], 'command-lost', /Begin it again/],
  ])('%s', (_, args, reason, words) => {
    const { stage, why } = endOf(...args);
    expect([stage, why?.reason ?? null]).toEqual([reason === null ? 'done' : 'failed', reason]);
    if (words !== null) expect(why?.message).toMatch(words);
  });

  test('that its time was over is no failure where it had said something, nor is the end of the daemon', () => {
    expect(endOf(SAID, { is: 'ended' })).toEqual({ stage: 'stopped', why: null });
    expect(endOf({ ...BEGUN, failedFiles: 1 }, { is: 'ended' })).toEqual({ stage: 'stopped', why: null });
    expect(endOf(BEGUN, { is: 'ended' }, true)).toEqual({ stage: 'stopped', why: null });
  });

  test('one that ran when the daemon was killed was stopped', () => {
    expect(wasCommandRunning(BEGUN).stage).toBe('stopped');
    expect(unsaid({ ...SAID, failedFiles: 1 })).toBe(0);
    expect(unsaid(SAID)).toBe(1);
  });
});

describe('what is said of it', () => {
  const iso = (at: number) => isoWithOffset(at, 'UTC');
  const shown = (run: CommandRun | null, reported = 0, verified = 0) => {
    const sum = { files: reported, bytes: reported * 1e9, presentFiles: reported, presentBytes: reported * 1e9 };
    const sums = [
      {
        ...{ shelf: 'command tape', volume: 'stripe', files: verified, bytes: verified * 1e9, verifiedFiles: verified },
        ...{
          verifiedBytes: verified * 1e9,
          differing: 0,
          unread: 0,
          earlierBytes: 0,
          oldestReadAt: NOON,
          newestReadAt: NOON,
        },
      },
    ];
    return commandSnapshot(
      { volume: 'stripe', name: 'tape', run, reported: { name: 'tape', volume: 'stripe', ...sum }, nextAt: null },
      { ...NO_BACKUPS, sums },
      iso,
    );
  };

  test('copies by its word are told, and that they do not count', () => {
    expect(reportedSentence(shown(null), iso(NOON))).toBe('tape: no copies of stripe yet.');
    expect(reportedSentence(shown(null, 12), iso(NOON))).toBe(
      'tape: its command says that it has 12 files of stripe (12.0 GB); headroomd has read none of them, so none counts as verified.',
    );
    expect(reportedSentence(shown(null, 12, 1), iso(NOON))).toBe(
      'tape: its command says that it has 12 files of stripe (12.0 GB); 1 file (1.00 GB) of stripe there was read back from the medium and counts as verified.',
    );
  });

  test('its run', () => {
    const told = (run: CommandRun) => commandSentence(shown(run), iso(NOON));
    expect(told({ ...SAID, progress: { share: 0.5, message: 'tape 4' } })).toMatch(
      /^A copying of stripe to tape is under way since .*: 2 of 3 files copied by its word \(2\.00 GB of 3\.00 GB\), 50 % by its word, "tape 4"\.$/,
    );
    expect(told({ ...SAID, stage: 'done', endedAt: NOON, noReports: 1, unknownFiles: 2 })).toMatch(
      /; of 1 file it said nothing; 1 line it printed was no report; it told of 2 files that were not listed, or twice\.$/,
    );
    expect(commandSentence(shown(null), iso(NOON))).toBeNull();
  });

  test('a warning where it did not do its work, with what to do', () => {
    expect(commandOutcome({ ...SAID, stage: 'running' })).toEqual(['stripe/tape', 'judged-again']);
    expect(commandOutcome({ ...SAID, stage: 'done', failedFiles: 1, failures: 0 })[1]).toBeNull();
    expect(commandOutcome({ ...SAID, stage: 'stopped' })[1]).toBeNull();
    expect(commandOutcome({ ...SAID, stage: 'done' })[1]).toMatchObject({
      ...{ severity: 'warning', subject: 'stripe/tape' },
      message:
        'The last copying of stripe to tape by its command said nothing of 1 file, so it does not count as copied.',
    });
    const why = { reason: 'command-missing' as const, message: '/x is not there.' };
    expect(commandOutcome({ ...BEGUN, stage: 'failed', why })[1]).toMatchObject({
      message: 'The last copying of stripe to tape by its command did not end well: /x is not there.',
      remedies: [{ action: 'Put that right, then run "headroomd backup now tape"' }],
    });
  });
});
