import { describe, expect, test } from 'vitest';
import { capacityReserve } from '../../../../src/core/advise/rules/capacity-reserve.ts';
import { assessCapacity } from '../../../../src/core/assess/capacity.ts';
import type { Arrival } from '../../../../src/core/model.ts';
import { NOTHING_MADE, sampleArrival, sampleAssessment, sampleCopies, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const TB = 1e12;

/** A volume of 4 TB with so much left to write. */
function volumeWith(availableBytes: number, reserve = 0.4 * TB) {
  const space = { totalBytes: 4 * TB, freeBytes: availableBytes, availableBytes };
  return sampleVolume({ capacity: assessCapacity(space, { bytes: reserve }) });
}

function evaluate(availableBytes: number, arrivals: Arrival[] = [], reserve?: number) {
  return capacityReserve.evaluate(
    sampleAssessment({ volumes: [volumeWith(availableBytes, reserve)], arrivals }),
    THRESHOLDS,
  );
}

function verdict(...args: Parameters<typeof evaluate>) {
  const { findings, holds } = evaluate(...args);
  return findings[0]?.severity ?? holds('stripe');
}

describe('room below the reserve', () => {
  test.each([
    ['well above', 0.6 * TB, null],
    ['1 % of the volume above', 0.4401 * TB, null],
    ['less than that above', 0.4399 * TB, 'between-thresholds'],
    ['just above', 0.4 * TB, 'between-thresholds'],
    ['below', 0.3999 * TB, 'warning'],
    ['nearly full', 0.0799 * TB, 'critical'],
  ])('%s', (_, available, expected) => expect(verdict(available)).toBe(expected));

  test('a volume that keeps nothing free is still critical when nearly full, with a band above', () => {
    expect(verdict(0.0799 * TB, [], 0)).toBe('critical');
    expect(verdict(0.11 * TB, [], 0)).toBe('between-thresholds');
    expect(verdict(0.121 * TB, [], 0)).toBeNull();
  });

  test('room for another clip as large as the largest arriving', () => {
    const large = [sampleArrival({ bytes: 0.5 * TB }), sampleArrival({ path: 'b', bytes: 1e9 })];
    expect(verdict(0.49 * TB, large)).toBe('critical');
    expect(verdict(0.54 * TB, large)).toBe('between-thresholds');
    expect(verdict(0.56 * TB, large)).toBeNull();
    expect(verdict(0.49 * TB, [sampleArrival({ bytes: 0.5 * TB, stage: 'refused' })])).toBeNull();
    expect(verdict(0.49 * TB, [sampleArrival({ bytes: 0.5 * TB, volume: 'other' })])).toBeNull();
  });

  test.each(['starting', 'absent', 'hung'] as const)('nothing is concluded from a root that is %s', (state) => {
    const volume = { ...volumeWith(0.1 * TB), state };
    const { findings, holds } = capacityReserve.evaluate(sampleAssessment({ volumes: [volume] }), THRESHOLDS);
    expect(findings).toEqual([]);
    expect(holds('stripe')).toBe('root-not-live');
  });

  test('nor from room that is not known; a volume that is no longer configured is over', () => {
    const volumes = [sampleVolume({ capacity: null })];
    const { holds } = capacityReserve.evaluate(sampleAssessment({ volumes }), THRESHOLDS);
    expect(holds('stripe')).toBe('figure-unknown');
    expect(holds('gone')).toBeNull();
  });
});

describe('what it says', () => {
  test('where, how much, and what to do', () => {
    const { findings } = evaluate(0.084 * TB);
    expect(findings[0]).toMatchObject({
      kind: 'capacity-reserve',
      subject: 'stripe',
      message:
        'stripe has 84.0 GB left to write, 316 GB less than the 400 GB kept free. Make room before the next card.',
      figures: { availableBytes: 84e9, reserveBytes: 4e11, roomBytes: -316e9, usedBytes: 3916e9, totalBytes: 4e12 },
    });
    expect(evaluate(0.05 * TB).findings[0]?.message).toMatch(
      /350 GB less than the 400 GB kept free\. Make room now\.$/,
    );
    expect(evaluate(0.45 * TB, [sampleArrival({ bytes: 0.5 * TB })]).findings[0]?.message).toBe(
      'stripe has 450 GB left to write: another clip of 500 GB does not fit. Make room before the next card.',
    );
  });

  test('names from a hostile volume are harmless', () => {
    const volume = { ...volumeWith(0.084 * TB), name: 'str\u001b[2Jipe' };
    const { findings } = capacityReserve.evaluate(sampleAssessment({ volumes: [volume] }), THRESHOLDS);
    expect(findings[0]?.message).toContain('str\\x1b[2Jipe has');
  });

  test('remedies count against what is missing', () => {
    const assessment = sampleAssessment({
      volumes: [volumeWith(0.084 * TB)],
      projects: [
        {
          ...NOTHING_MADE,
          sum: sampleSum({ bytes: 0.3 * TB, byKind: {} }),
          copies: sampleCopies(0.3 * TB),
          multicam: [],
        },
      ],
    });
    const remedies = capacityReserve.evaluate(assessment, THRESHOLDS).findings[0]?.remedies;
    expect(remedies?.[0]?.effect).toMatch(/^frees 300 GB and leaves 384 GB to write; 16\.0 GB are still missing\./);
  });

  test.each([
    ['to the reserve', 0.39 * TB, 0.4 * TB, 0, '9.00 GB'],
    ['to where it is no longer nearly full', 0.05 * TB, 0, 0, '29.0 GB'],
    ['to where the next clip fits', 0.45 * TB, 0.4 * TB, 0.5 * TB, '49.0 GB'],
  ])('what is missing counts %s', (_, available, reserve, arriving, missingAfterOne) => {
    const assessment = sampleAssessment({
      volumes: [volumeWith(available, reserve)],
      projects: [
        { ...NOTHING_MADE, sum: sampleSum({ bytes: 1e9, byKind: {} }), copies: sampleCopies(1e9), multicam: [] },
      ],
      arrivals: [sampleArrival({ bytes: arriving, path: 'Lock Keepers/A001.mov' })],
    });
    const [finding] = capacityReserve.evaluate(assessment, THRESHOLDS).findings;
    expect(finding?.remedies[0]?.effect).toContain(`; ${missingAfterOne} are still missing`);
  });
});
