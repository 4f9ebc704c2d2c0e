import { describe, expect, test } from 'vitest';
import { copyDiffers } from '../../../../src/core/advise/rules/copy-differs.ts';
import type { BadCopy } from '../../../../src/core/backup/backup-run.ts';
import { NO_BACKUPS, type ShelfFindings, type ShelfState } from '../../../../src/core/backup/backup-view.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const SHELF: ShelfState = {
  ...{ name: 'shelf-a', path: '/media/shelf-a', rotate: false, state: 'shelf-absent', message: 'm', lookedAt: NOON },
  ...{ known: null, volumes: ['stripe'], full: null },
};
const BAD: BadCopy = {
  ...{ path: 'stripe/S/A001.mov', source: 'S/A001.mov', state: 'differs', is: 'as-copied' },
  elsewhere: { shelf: 'shelf-b', path: 'stripe/S/A001.mov', verified: true, readAt: NOON },
};
const FOUND: ShelfFindings = {
  ...{ volume: 'stripe', shelf: 'shelf-a', bad: [], badFiles: 0, altered: [] },
  ...{ rereadSeconds: 5_184_000, late: { files: 0, bytes: 0 } },
};
const evaluate = (...findings: ShelfFindings[]) =>
  copyDiffers.evaluate(sampleAssessment({ backups: { ...NO_BACKUPS, shelves: [SHELF], findings } }), THRESHOLDS);

describe('a copy that is not what was written, and an original that is not what was copied', () => {
  test('names both files, says which side changed, and where a good copy lies', () => {
    const [finding] = evaluate({ ...FOUND, bad: [BAD], badFiles: 1 }).findings;
    expect(finding).toMatchObject({ subject: 'stripe/shelf-a', severity: 'critical', figures: { bad: 1, altered: 0 } });
    expect(finding?.message).toBe(
      '1 copy on shelf-a is not what was written, first stripe/S/A001.mov (its content changed). The file on the working volume was read again and is what was copied (stripe: S/A001.mov). Another copy lies on shelf-b (stripe/S/A001.mov), read back from its medium. Nothing was touched: look which one is right, and keep the cards.',
    );
    const [both] = evaluate({
      ...{ ...FOUND, badFiles: 40, altered: ['S/A002.mov', 'S/A003.mov'] },
      bad: [{ ...BAD, state: 'unread', is: 'unread', elsewhere: null }, BAD],
    }).findings;
    expect(both?.message).toMatch(
      /^40 copies on shelf-a are not what was written, first .* \(it cannot be read\)\. The file on the working volume is not there or cannot be read \(.*\)\. No other copy of it is known\. 2 recordings on stripe are not what was copied before, first S\/A002\.mov\./,
    );
  });

  test('nothing where all is well; nothing is taken back before the ledger was asked', () => {
    expect(evaluate(FOUND).findings).toEqual([]);
    expect(evaluate(FOUND).holds('stripe/shelf-a')).toBeNull();
    expect(evaluate().holds('stripe/shelf-a')).toBe('root-not-live');
  });
});
