import { expect, test } from 'vitest';
import { isOver, newRun, withTrouble } from '../../../src/core/backup/backup-run.ts';
import type { CopyState } from '../../../src/core/backup/copies.ts';
import { placeCopy, stampOf } from '../../../src/core/backup/places.ts';
import type { Kind } from '../../../src/core/model.ts';
import { someFile } from '../../contracts/catalogue.material.ts';

const STAMP = '2027-03-04 030000';
const placed = (kind: Kind, earlier: CopyState | null) =>
  placeCopy(
    {
      file: someFile('Saltmarsh/a', { kind }),
      earlier: earlier === null ? null : { state: earlier, hash: '0', size: 9 },
    },
    STAMP,
  );
const [MAIN, ASIDE] = ['stripe/Saltmarsh/a', `Earlier versions/stripe/${STAMP}/Saltmarsh/a`];

test('a copy belongs where the file is; an earlier version goes aside for a newer one', () => {
  expect(placed('original', null)).toEqual({ do: 'copy', target: MAIN });
  for (const kind of ['project-file', 'graphics', 'still', 'sidecar', 'other', 'render', 'proxy'] as const) {
    expect(placed(kind, 'good')).toEqual({ do: 'replace', from: MAIN, aside: ASIDE, target: MAIN });
  }
});

test('recorded picture and sound that changed go beside the copy that was made first', () => {
  for (const kind of ['original', 'sound'] as const) {
    expect(placed(kind, 'good')).toEqual({ do: 'beside', target: ASIDE, altered: true });
  }
});

test('a copy that is not what was written stays as it is, whatever it is of', () => {
  for (const state of ['differs', 'unread'] as const) {
    expect(placed('original', state)).toEqual({ do: 'beside', target: ASIDE, altered: false });
    expect(placed('project-file', state)).toEqual({ do: 'beside', target: ASIDE, altered: false });
  }
});

test('a stamp is a name on any file system', () => {
  expect(stampOf(Date.UTC(2027, 2, 4, 3, 0, 7, 900))).toBe('2027-03-04 030007');
});

test('of many troubles some are kept, and all are counted', () => {
  const run = newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'nightly', startedAt: 1 });
  const trouble = { reason: 'failed' as const, path: 'a', message: 'm', advice: 'd', code: null };
  const many = Array.from({ length: 30 }).reduce<typeof run>((before) => withTrouble(before, trouble), run);
  expect([many.failures, many.troubles.length]).toEqual([30, 20]);
  const stages = ['looking', 'copying', 'paused', 're-reading', 'done', 'stopped', 'broken', 'refused'] as const;
  expect(stages.filter((stage) => isOver({ stage }))).toEqual(['done', 'stopped', 'broken', 'refused']);
});
