import { describe, expect, test } from 'vitest';
import { newVerify, type VerifyRun, verifyVerdict, wasVerifying } from '../../../src/core/backup/verify-run.ts';
import { verifyFigures } from '../../../src/core/present/snapshot-verify.ts';
import { verifyProgress, verifySummary } from '../../../src/core/present/verify-words.ts';

const ASK = { volume: 'stripe', shelf: 'shelf-a', project: null, anew: false };
const DAY = 86_400_000;
const BEGUN = newVerify(ASK, null, 1_000 * DAY);
const ended = (over: Partial<VerifyRun>): VerifyRun => ({
  ...BEGUN,
  stage: 'stopped',
  gone: 1,
  goneFirst: ['a'],
  ...over,
});

describe('where a reading of all copies begins', () => {
  test('one that was ended in the middle is gone on with, for a week, and for the same', () => {
    const at = 1_000 * DAY;
    expect(newVerify(ASK, ended({}), at + DAY)).toMatchObject({ before: at, gone: 1, goneFirst: ['a'] });
    for (const stage of ['broken', 'refused', 'waiting'] as const)
      expect(newVerify(ASK, ended({ stage }), at + DAY).before).toBe(at);
    expect(newVerify(ASK, ended({}), at + 7 * DAY)).toMatchObject({ before: at + 7 * DAY, gone: 0 });
    expect(newVerify(ASK, ended({ stage: 'done' }), at + 1).before).toBe(at + 1);
    expect(newVerify({ ...ASK, project: 'Saltmarsh' }, ended({}), at + 1).before).toBe(at + 1);
    expect(newVerify({ ...ASK, anew: true }, ended({}), at + 1)).toMatchObject({ before: at + 1, gone: 0 });
  });

  test('with a clock that was ahead nothing is taken for read', () => {
    expect(newVerify(ASK, ended({ before: 2_000 * DAY }), 1_000 * DAY).before).toBe(1_000 * DAY);
  });

  test('one that was under way when the daemon ended was stopped', () => {
    expect(wasVerifying({ ...BEGUN, stage: 'reading' }).stage).toBe('stopped');
    expect(wasVerifying({ ...BEGUN, stage: 'done' }).stage).toBe('done');
  });
});

describe('how it came out', () => {
  const DONE = { ...BEGUN, stage: 'done' as const, all: { files: 3, bytes: 3e9 }, files: 3, bytes: 3e9 };
  const told = (over: Partial<VerifyRun>) => verifySummary(verifyFigures({ ...DONE, ...over }));

  test('all as written only when all was read and is', () => {
    expect(verifyVerdict(DONE)).toBe('as-written');
    expect(verifyVerdict({ ...DONE, stage: 'stopped' })).toBe('not-read');
    for (const found of ['differing', 'unread', 'gone'] as const) {
      expect(verifyVerdict({ ...DONE, [found]: 1 })).toBe('not-as-written');
      expect(verifyVerdict({ ...DONE, [found]: 1, stage: 'broken' })).toBe('not-as-written');
    }
  });

  test('in a sentence', () => {
    expect(told({})).toBe('The copies of stripe on shelf-a: 3 files read (3.00 GB), all as written.');
    expect(told({ project: 'Saltmarsh', differing: 1, gone: 2, unread: 1 })).toBe(
      'The copies of Saltmarsh (stripe) on shelf-a: 3 files read (3.00 GB), 1 differs from what was written, 2 are gone, 1 could not be read.',
    );
    expect(told({ stage: 'stopped', files: 1, bytes: 1e9 })).toBe(
      'The copies of stripe on shelf-a: reading was stopped; 1 file read (1.00 GB), 2 files not read; of those read all as written.',
    );
    const why = { reason: 'shelf-gone' as const, message: 'the shelf is not where it was.' };
    expect(told({ stage: 'broken', files: 0, bytes: 0, why })).toBe(
      'The copies of stripe on shelf-a: reading broke off: the shelf is not where it was. 0 files read (0 B), 3 files not read; of those read nothing is known.',
    );
    expect(told({ stage: 'refused', why })).toBe(
      'The copies of stripe on shelf-a were not read: the shelf is not where it was.',
    );
  });

  test('how far it is', () => {
    const far = (over: Partial<VerifyRun>) => verifyProgress(verifyFigures({ ...DONE, stage: 'reading', ...over }));
    expect(far({ files: 1, bytes: 1e9 })).toBe('1 of 3 files read, 3.00 GB in all, 33 %');
    expect(far({ files: 2, bytes: 2e9, earlierFiles: 1, stage: 'paused', differing: 1 })).toBe(
      '2 of 3 files read (1 of them before it was ended last time), 3.00 GB in all, 66 %; it waits, for playback goes first; not as written so far: 1 differ, 0 gone, 0 not readable',
    );
    expect(far({ stage: 'waiting' })).toBe('waits until no backup is under way');
  });
});
