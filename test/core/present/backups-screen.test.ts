import { expect, test } from 'vitest';
import { type BadCopy, newRun } from '../../../src/core/backup/backup-run.ts';
import { type BackupView, NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import { newCommandRun } from '../../../src/core/backup/command-run.ts';
import { newVerify } from '../../../src/core/backup/verify-run.ts';
import { backupsScreen } from '../../../src/core/present/backups-screen.ts';
import { htmlPage } from '../../../src/core/present/html/page.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { NOON, sampleAssessment } from '../samples.ts';

const CONTEXT = { version: '0.1.0', page: null, zone: 'UTC' };
const RUN = newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: NOON });
const READ = newVerify({ volume: 'stripe', shelf: 'shelf-a', project: 'Saltmarsh', anew: false }, null, NOON);
const TAPE = newCommandRun({ volume: 'stripe', name: 'tape', cause: 'nightly', startedAt: NOON });
const BAD: BadCopy = {
  ...{ path: 'stripe/Saltmarsh/A001.mov', source: 'Saltmarsh/A001.mov', state: 'differs', is: 'as-copied' },
  elsewhere: { shelf: 'shelf-b', path: 'stripe/Saltmarsh/A001.mov', verified: true, readAt: NOON },
};
const shown = (over: Partial<BackupView>) =>
  snapshot(sampleAssessment({ backups: { ...NO_BACKUPS, ...over } }), [], CONTEXT);
/** One line, so that breaks do not matter. */
const told = (over: Partial<BackupView>) => backupsScreen(shown(over), 80).replace(/\s+/g, ' ');

const VIEW: Partial<BackupView> = {
  runs: [{ ...RUN, stage: 'done', endedAt: NOON, altered: ['Saltmarsh/A002.mov'] }],
  verifications: [
    {
      ...{ ...READ, stage: 'stopped', endedAt: NOON + 60_000, all: { files: 9, bytes: 9e9 }, files: 4, bytes: 4e9 },
      ...{ differing: 1, gone: 1, goneFirst: ['stripe/Saltmarsh/A003.mov'], bad: [BAD] },
    },
  ],
  commands: [
    {
      ...{ volume: 'stripe', name: 'tape', nextAt: null },
      reported: { name: 'tape', volume: 'stripe', files: 2, bytes: 2e9, presentFiles: 2, presentBytes: 2e9 },
      run: {
        ...{
          ...TAPE,
          stage: 'done',
          endedAt: NOON,
          wanted: { files: 4, bytes: 4e9 },
          reported: { files: 2, bytes: 2e9 },
        },
        ...{ failedFiles: 2, failures: 2 },
        troubles: [
          { path: 'Saltmarsh/A004.mov', message: 'Saltmarsh/A004.mov: tape 4 has a bad spot' },
          { path: 'Saltmarsh/A005.mov', message: 'Saltmarsh/A005.mov: tape 4 is full' },
        ],
      },
    },
  ],
};

test('what was read again by command says which copy is bad, which side changed, where a good one is, and how to go on', () => {
  const screen = told(VIEW);
  expect(screen).toContain(
    'Ended 12:01. The copies of Saltmarsh (stripe) on shelf-a: reading was stopped; 4 files read (4.00 GB), 5 files not read; of those read 1 differs from what was written, 1 is gone.',
  );
  expect(screen).toContain(`"headroomd backup verify shelf-a --project 'Saltmarsh'" goes on from there.`);
  expect(screen).toContain(
    'shelf-a: stripe/Saltmarsh/A001.mov is not what was written. The file on the working volume was read again and is what was copied (stripe: Saltmarsh/A001.mov). Another copy lies on shelf-b (stripe/Saltmarsh/A001.mov), read back from its medium.',
  );
  expect(screen).toContain('shelf-a: stripe/Saltmarsh/A003.mov is gone; somebody took it away.');
  const going = { ...READ, stage: 'reading' as const, all: { files: 9, bytes: 9e9 }, files: 3, movedBytes: 3e9 };
  expect(told({ ...VIEW, verifications: [going] })).toContain(
    'The copies of Saltmarsh (stripe) on shelf-a are being read again: 3 of 9 files read, 9.00 GB in all, 33 %.',
  );
});

test('a recording that changed, and what a program says, are told with the files', () => {
  const screen = told(VIEW);
  expect(screen).toContain(
    'Saltmarsh/A002.mov is not what was copied before. The first copy stays where it is; look which one is right.',
  );
  expect(screen).toContain('tape: its command says that it has 2 files of stripe (2.00 GB)');
  // The first is told with how many there are.
  expect(screen).toContain('first: Saltmarsh/A004.mov: tape 4 has a bad spot. Saltmarsh/A005.mov: tape 4 is full. ');
});

test('the page tells how it came out', () => {
  const html = htmlPage(shown(VIEW)).replace(/&#39;/g, "'").replace(/&#34;/g, '"');
  expect(html).toContain('of those read 1 differs from what was written, 1 is gone.');
  expect(html).toContain('tape: its command says that it has 2 files');
});
