import { describe, expect, test } from 'vitest';
import { cardIncomplete } from '../../../../src/core/advise/rules/card-incomplete.ts';
import { listDiffers } from '../../../../src/core/advise/rules/list-differs.ts';
import type { Thresholds } from '../../../../src/core/advise/rules/rule.ts';
import type { CardAssessment } from '../../../../src/core/assess/assessment.ts';
import { type ListCheck, untrusted } from '../../../../src/core/cards/list-check.ts';
import { cardSentences } from '../../../../src/core/present/card-sentences.ts';
import { cardSnapshot } from '../../../../src/core/present/snapshot-cards.ts';
import { isoWithOffset } from '../../../../src/core/units.ts';
import { sampleCard } from '../../card-samples.ts';
import { copyOf, manifestOf } from '../../cards/arrived.ts';
import { NOON, sampleAssessment } from '../../samples.ts';

const NO_THRESHOLDS = {} as Thresholds;
const LIST = manifestOf('m', 'Saltmarsh/Day 3', [
  { path: 'A.mov', size: 5, mtimeMs: null },
  { path: 'B.mov', size: 6, mtimeMs: null },
]);
const CLEAN: ListCheck = {
  ...untrusted('', 'mark', NOON),
  ...{ trouble: null, files: 2, intact: 2 },
};
const ALTERED = { path: 'A.mov', size: 5, format: 'md5', listed: 'aa', found: 'bb' } as const;

function list(check: Partial<ListCheck>, over: Partial<CardAssessment> = {}): CardAssessment {
  const card = sampleCard([copyOf('Saltmarsh/Day 3/A.mov', 5)], { state: 'manifest', ...over }, LIST);
  return { ...card, check: { ...CLEAN, ...check } };
}

const found = (...cards: CardAssessment[]) => listDiffers.evaluate(sampleAssessment({ cards }), NO_THRESHOLDS);
const quiet = { progress: { mark: '', since: NOON - 60_000 } };
const first = { ...CLEAN.first };

describe('what arrived beside its list', () => {
  test('altered footage is critical at once, with both values and what to do; a sidecar is a warning', () => {
    const [finding] = found(list({ intact: 1, altered: 1, first: { ...first, altered: [ALTERED] } })).findings;
    expect(finding).toMatchObject({
      severity: 'critical',
      figures: { alteredFiles: 1, listedFiles: 2, missingFiles: 0 },
    });
    expect(finding?.message).toBe(
      'List Saltmarsh/Day 3/m.mhl on stripe: 1 of its 2 files is not as listed: A.mov (the list says md5 aa, found bb). Keep the card as it is.',
    );
    expect(finding?.remedies[0]).toEqual({
      action: 'Copy exactly this file again from the card, and do not format the card before it matches',
      effect: '1 file, 5 B: what comes is read and compared with the list by itself',
    });
    const sidecar = { ...ALTERED, path: 'A.xml', format: null, listed: '7', found: '1' };
    const [other] = found(list({ intact: 1, altered: 1, first: { ...first, altered: [sidecar] } })).findings;
    expect(other?.severity).toBe('warning');
    expect(other?.message).toContain('A.xml (the list says 7 bytes, found 1 byte)');
  });

  test('what is missing is told when nothing more comes, once, and not of what was wholly here before', () => {
    const missing = { intact: 1, missing: 1, first: { ...first, missing: [{ path: 'B.mov', size: 6 }] } };
    expect(found(list(missing)).findings).toEqual([]);
    expect(found(list({ ...missing, arriving: 1 }, quiet)).findings).toEqual([]);
    expect(found(list(missing, { ...quiet, wasComplete: true })).findings).toEqual([]);
    const [finding] = found(list(missing, quiet)).findings;
    expect(finding?.message).toContain('1 of its 2 files is not here: B.mov (6 B). Keep');
    expect(finding?.severity).toBe('warning');
    // Not by the rule that goes by names and sizes as well.
    const stalled = sampleAssessment({ cards: [list(missing, { ...quiet, stalled: true })] });
    expect(cardIncomplete.evaluate(stalled, NO_THRESHOLDS).findings).toEqual([]);
    // Neither, nor over, before its contents were looked at: a daemon that was just started knows what it told.
    const unknown = { ...list(missing, { ...quiet, stalled: true }), check: null };
    for (const rule of [listDiffers, cardIncomplete]) {
      const result = rule.evaluate(sampleAssessment({ cards: [unknown] }), NO_THRESHOLDS);
      expect(result.findings).toEqual([]);
      expect(result.holds(`${LIST.name} (${LIST.id})`)).toBe('judged-again');
    }
  });

  test('a list that cannot be relied on is told, and what lacks of it by names and sizes', () => {
    const broken = { ...list({}, { ...quiet, stalled: true }), check: untrusted('the chain has c4X.', 'm', NOON) };
    expect(found(broken).findings[0]?.message).toContain(
      'cannot be relied on: the chain has c4X. Contents were not compared',
    );
    expect(cardIncomplete.evaluate(sampleAssessment({ cards: [broken] }), NO_THRESHOLDS).findings).toHaveLength(1);
  });

  test('what was told is not over before what came again has been read, or while something still comes', () => {
    const subject = `${LIST.name} (${LIST.id})`;
    const held = (check: Partial<ListCheck>, over = {}) => found(list(check, over)).holds(subject);
    expect(held({ intact: 1, unproved: 1, pending: 1 })).toBe('judged-again');
    expect(held({ intact: 1, arriving: 1 })).toBe('judged-again');
    expect(held({ intact: 1, missing: 1 })).toBe('judged-again');
    expect(held({ intact: 1, missing: 1 }, { wasComplete: true })).toBeNull();
    expect(held({})).toBeNull();
  });

  test('nothing of what is intact; while its volume is away what stands is held', () => {
    expect(found(list({})).findings).toEqual([]);
    const away = list(
      { altered: 1, first: { ...first, altered: [ALTERED] } },
      { notLive: [{ volume: 'stripe', state: 'away' }] },
    );
    const result = found(away);
    expect(result.findings).toEqual([]);
    expect(result.holds(`${LIST.name} (${LIST.id})`)).toBe('root-not-live');
  });
});

describe('in words', () => {
  const iso = (instant: number) => isoWithOffset(instant, 'UTC');
  const words = (check: Partial<ListCheck>) => cardSentences(cardSnapshot(list(check), iso), iso(NOON)).join(' ');

  test('what was compared stands in place of names and sizes', () => {
    expect(words({})).toBe(
      'List Saltmarsh/Day 3/m.mhl on stripe (2 files, 11 B): all 2 have the content that is listed.',
    );
    expect(
      words({
        ...{
          files: 9,
          intact: 1,
          altered: 1,
          missing: 1,
          renamed: 1,
          unproved: 3,
          pending: 2,
          pendingBytes: 2e9,
          fresh: 1,
        },
        first: {
          altered: [ALTERED],
          missing: [{ path: 'B.mov', size: 6 }],
          renamed: [{ path: 'heron.mov', from: 'C.mov' }],
          fresh: ['notes.txt'],
        },
      }),
    ).toContain(
      ': 1 has the content that is listed; not as listed: A.mov; not here: B.mov; here under another name: C.mov as heron.mov; still to be read: 2 files, 2.00 GB; of 1 file it says nothing that can be compared; beside it, in no list: notes.txt.',
    );
  });

  test('what lies there under another name is not among what is missing', () => {
    const renamed = list({
      intact: 1,
      renamed: 1,
      first: { ...first, renamed: [{ path: 'heron.mov', from: 'B.mov' }] },
    });
    expect(cardSnapshot(renamed, iso)).toMatchObject({ missingFiles: 0, missingFootage: 0, missing: [] });
  });
});
