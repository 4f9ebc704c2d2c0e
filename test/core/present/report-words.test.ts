import { describe, expect, test } from 'vitest';
import type { BackupRun } from '../../../src/core/backup/backup-run.ts';
import type { ShelfState } from '../../../src/core/backup/backup-view.ts';
import { newCommandRun } from '../../../src/core/backup/command-run.ts';
import { newVerify } from '../../../src/core/backup/verify-run.ts';
import { periodSentence } from '../../../src/core/present/report-words.ts';
import { sampleArrival, sampleVolume } from '../samples.ts';
import {
  at,
  BACKUP,
  BUSY,
  CARDS_UNREAD,
  factsOf,
  NIGHT,
  reportOfNothing,
  SALTMARSH,
  SHELF,
  said,
  VIEW,
} from './report-story.ts';

test('what arrived outside projects, without a length, or not as footage', () => {
  const none = { ...SALTMARSH, clips: 0, bytes: 0, durationSeconds: 0, firstAt: null, lastAt: null };
  const one = { ...SALTMARSH, clips: 1, untimed: 1, durationSeconds: 0, lastAt: SALTMARSH.firstAt };
  const arrived = [
    { ...none, project: 'Lock Keepers', made: { clips: 1, bytes: 2e9 } },
    { ...none, project: 'Tidewater Sessions', made: { clips: 0, bytes: 0 } },
    { ...one, area: 'unassigned' as const, project: null, notDecoded: 7, made: { clips: 0, bytes: 0 } },
  ];
  const notDecoded = [1, 2, 3, 4, 5, 6].map((take) => ({ volume: 'stripe', project: null, name: `A00${take}.raw` }));
  const removals = [4, 5].map((hour) => ({
    volume: 'stripe',
    removal: { ...{ hour, area: 'project' as const, project: 'Saltmarsh' }, files: 2, bytes: 3e9, footageBytes: 1e9 },
  }));
  expect(said({ ...factsOf(NIGHT), arrived, notDecoded, removals }, 'Arrived')).toEqual([
    'Lock Keepers (stripe): no footage; 1 proxy or render (2.00 GB).',
    'Tidewater Sessions (stripe): no footage.',
    'stripe, not assigned to any: 1 clip, 412 GB (the length of 1 clip is not known), ready 2027-03-04 11:02.',
    'Not decoded, for no reader here knows what is in them: A001.raw, A002.raw, A003.raw, A004.raw, A005.raw and 2 more.',
    'Taken away since 2027-03-04 07:30: Saltmarsh (stripe), 4 files, 6.00 GB, 2.00 GB of it footage.',
  ]);
});

test('of very many that were refused ten are named', () => {
  const arrivals = Array.from({ length: 13 }, (_, index) => sampleArrival({ path: `${index}.mov`, stage: 'refused' }));
  expect(said(factsOf(NIGHT, { arrivals }), 'Arrived').slice(10)).toEqual([
    expect.stringMatching(/^Refused: 9\.mov/),
    '3 more are refused, stopped or not whole.',
  ]);
});

describe('how a backup ended', () => {
  const told = (run: Partial<BackupRun>) =>
    said(
      { ...factsOf(NIGHT), runs: [{ kind: 'backup', run: { ...BACKUP, reread: 0, ...run } }] },
      'Backups',
    )[0]?.replace('04:00 to 04:41, stripe to shelf-a, ', '');

  test.each<[string, Partial<BackupRun>, string]>([
    [
      'not begun',
      { stage: 'refused', files: 0, why: { reason: 'no-marker' as never, message: 'The shelf is not mounted.' } },
      'its night: it was not begun: The shelf is not mounted; nothing was copied.',
    ],
    [
      'broken off',
      { stage: 'broken', cause: 'catch-up', why: { reason: 'failed', message: 'The cable is out.' } },
      'for a night that was missed: it did not end well: The cable is out; 14 files (414 GB) copied at 180 MB/s with reading back, each read back from the medium.',
    ],
    [
      'stopped, where a cache may have answered',
      { stage: 'stopped', verifiedFiles: 4, copyingSeconds: 0.1 },
      'its night: it was ended before it was through, and the next one goes on from there; 14 files (414 GB) copied, 4 of them read back from the medium; of the others a cache may have answered, and they do not count as verified.',
    ],
    [
      'nothing to do',
      { wanted: { files: 0, bytes: 0 }, files: 0, cause: 'age' },
      'for what was exposed for long: nothing was lacking there.',
    ],
    [
      'files that changed meanwhile',
      { files: 1, bytes: 5, verifiedFiles: 1, copyingSeconds: 0, changed: 1 },
      'its night: 1 file (5 B) copied, each read back from the medium; 1 file changed meanwhile and is left to the next.',
    ],
  ])('%s', (_, run, words) => {
    expect(told(run)).toBe(words);
  });

  test("by a program of the user's its word is one thing, what was read back another", () => {
    const run = {
      ...newCommandRun({ volume: 'stripe', name: 'tape', cause: 'command' as const, startedAt: NIGHT.from }),
      ...{
        stage: 'failed' as const,
        endedAt: NIGHT.from,
        reported: { files: 9, bytes: 9e9 },
        verified: { files: 1, bytes: 1e9 },
      },
      why: { reason: 'exit' as never, message: 'it ended with code 3.' },
    };
    expect(said({ ...factsOf(NIGHT), runs: [{ kind: 'command', run }] }, 'Backups')).toEqual([
      '2027-03-04 07:30, stripe to tape, asked for by hand: it did not end well: it ended with code 3; 9 files (9.00 GB) copied by its word; 1 was read back from the medium.',
    ]);
  });

  test('one that is under way, and a reading by command that ended, are told', () => {
    const going = { ...BACKUP, stage: 'copying' as const, endedAt: null };
    const read = { ...newVerify({ volume: 'stripe', shelf: 'shelf-a', project: null, anew: false }, null, NIGHT.from) };
    const done = { ...read, stage: 'done' as const, endedAt: NIGHT.until - 1, files: 3, bytes: 3e9 };
    const facts = factsOf(NIGHT, {
      backups: { ...VIEW, runs: [going, BACKUP], verifications: [done, { ...done, endedAt: NIGHT.until }, read] },
    });
    expect(said(facts, 'Backups')).toEqual([
      'No backup ended.',
      expect.stringMatching(/^A backup of stripe to shelf-a is under way since 04:00: 14 of 14 files/),
      'Ended 07:29. The copies of stripe on shelf-a: 3 files read (3.00 GB), all as written.',
    ]);
  });
});

test('copies are told by how surely they were read, and those that are not as written each', () => {
  const sum = { volume: 'stripe', grade: 'device' as const, state: 'good' as const, isNew: true, files: 1, bytes: 1e9 };
  const copies = [sum, { ...sum, grade: 'reported' as const, files: 2 }, { ...sum, grade: 'server' as const }]
    .concat([{ ...sum, state: 'differs' as never, isNew: false, files: 1 }])
    .concat([{ ...sum, state: 'unread' as never, isNew: false, files: 2 }])
    .map((one) => ({ shelf: 'shelf-a', sum: one }));
  expect(said({ ...factsOf(NIGHT), copies }, 'Backups').slice(1)).toEqual([
    'shelf-a: 4 new copies of stripe (3.00 GB) made, 1 read back past every cache of this machine, 2 read back where a cache may have answered, so they do not count as verified and 1 read back from a server, which has caches of its own, so they do not count as verified.',
    'shelf-a: 1 copy of stripe (1.00 GB) is not what was written; nothing was touched.',
    'shelf-a: 2 copies of stripe (1.00 GB) are gone or could not be read; nothing was touched.',
  ]);
});

describe('advisories', () => {
  test('that stand are told with what to do, new ones as new; of the others what came and went', () => {
    const old = { ...BUSY, id: 'volume-busy:old', since: NIGHT.from - 1, message: 'old is busy.' };
    const fresh = { ...BUSY, remedies: [{ action: 'Wait', effect: 'it ends by itself' }] };
    const lost = { ...BUSY, id: 'volume-busy:lost', subject: 'lost', message: 'lost is busy.' };
    const before = { ...BUSY, id: 'volume-busy:before', subject: 'before' };
    const when = at('2027-03-05T03:00:00Z');
    const news = [
      { event: 'first' as const, advisory: BUSY, at: when },
      { event: 'worse' as const, advisory: lost, at: when },
      { event: 'worse' as const, advisory: lost, at: when + 1 },
      { event: 'cleared' as const, advisory: before, at: when },
    ];
    expect(said({ ...factsOf(NIGHT, {}, [fresh, old]), news }, 'Advisories')).toEqual([
      'WARNING, new: stripe has been busy for 5 minutes. (Since 02:10.)',
      'What to do: Wait: it ends by itself.',
      'WARNING: old is busy. (Since 2027-03-04 07:29.)',
      'Over at 03:00: before has room for playback again: what else went on there takes less.',
      'It does not stand any more. It was raised at 03:00 (warning): lost is busy.',
    ]);
  });
});

describe('what cannot be told', () => {
  test('a start in the middle, a volume that is new or hangs, shelves that are away, and what rests on the word of a program', () => {
    const gone: ShelfState = { ...SHELF, name: 'shelf-b', state: 'shelf-absent', rotate: true };
    const away = { ...gone, known: { ...SHELF.known, id: 'id-b', name: 'shelf-b' } as never };
    const [first] = VIEW.sums;
    const sums = first === undefined ? [] : [first, { ...first, shelf: 'id-b' }];
    const tape = { files: 9, bytes: 9e9, presentFiles: 9, presentBytes: 9e9, name: 'tape', volume: 'stripe' };
    const commands = [{ volume: 'stripe', name: 'tape', run: null, reported: tape, nextAt: null }];
    const safety = { exposedBytes: 1, exposedClips: 1, exposedSeconds: 1, exposedSince: null };
    const backups = { ...VIEW, shelves: [SHELF, away], sums, commands, outlooks: new Map() };
    const facts = factsOf(NIGHT, { volumes: [sampleVolume({ state: 'hung', safety })], backups });
    const limits = said(
      { ...facts, cards: CARDS_UNREAD, runningSince: at('2027-03-05T06:10:00Z'), newVolumes: ['stripe'] },
      'What this report cannot tell',
    );
    expect(limits.map((sentence) => sentence.slice(0, 60))).toEqual([
      'headroomd was started at 06:10. What came or was taken away ',
      'Of stripe nothing is known that was ready before this time. ',
      'stripe: It does not answer. What was known of it is kept, no',
      'Not looked at: shelf-b. That the copies there are as they we',
      'How likely a loss is cannot be told of stripe: what it lies ',
      'What the programs for tape say that they copied is their wor',
      'The copies of 2 cards or lists were not looked up yet.',
    ]);
  });
});

// Directive 2000/84/EC: 28 March and 31 October 2027, 01:00 UTC.
test.each([
  [
    '2027-03-27T07:30:00Z',
    '2027-03-28T06:30:00Z',
    'from 2027-03-27 07:30 (+00:00) to 2027-03-28 07:30 (+01:00)',
    '23 h',
  ],
  [
    '2027-10-30T06:30:00Z',
    '2027-10-31T07:30:00Z',
    'from 2027-10-30 07:30 (+01:00) to 2027-10-31 07:30 (+00:00)',
    '25 h',
  ],
])('where the clocks were changed both offsets are told', (from, until, words, hours) => {
  const report = reportOfNothing({ from: at(from), until: at(until), basis: 'report-hour' });
  expect(periodSentence(report)).toBe(
    `This tells of the time since the report hour of the day before, ${words} by the clocks of Europe/London (${hours} 00 min). headroomd 0.1.0.`,
  );
});
