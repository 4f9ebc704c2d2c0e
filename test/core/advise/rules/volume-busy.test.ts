import { describe, expect, test } from 'vitest';
import { volumeBusy } from '../../../../src/core/advise/rules/volume-busy.ts';
import type { LoadAssessment } from '../../../../src/core/assess/assessment.ts';
import { sampleArrival, sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const HIGH: LoadAssessment = { share: 0.874, isHigh: true, readBps: 210e6, writeBps: 300e6, ownReadBps: 1e6 };

const evaluate = (load: LoadAssessment | null, over: Parameters<typeof sampleAssessment>[0] = {}) =>
  volumeBusy.evaluate(sampleAssessment({ volumes: [sampleVolume({ load })], ...over }), THRESHOLDS);

describe('a volume that is busy', () => {
  test('is told with what goes on, and with what to leave for later', () => {
    const copying = sampleArrival({ stage: 'copying', bytesPerSecond: 110e6 });
    const { findings } = evaluate(HIGH, { arrivals: [copying, sampleArrival({ stage: 'settling' })] });
    expect(findings).toEqual([
      {
        kind: 'volume-busy',
        subject: 'stripe',
        severity: 'warning',
        message:
          'stripe has been busy for minutes with 87 % of what it gives: 210 MB/s are read and 300 MB/s written. Playback from it may stutter.',
        figures: { share: 0.874, readBps: 210e6, writeBps: 300e6, ownReadBps: 1e6, basis: 'declared' },
        remedies: [
          {
            action: 'Play when 1 copy is through, or copy one card after the other',
            effect: 'it takes 110 MB/s',
          },
          {
            action: 'Pause renders, exports and backups while you play',
            effect: 'what writes besides takes 190 MB/s',
          },
        ],
      },
    ]);
  });

  test('copies alone, two of them', () => {
    const arrivals = [1, 2].map(() => sampleArrival({ stage: 'copying', bytesPerSecond: 150e6 }));
    expect(evaluate(HIGH, { arrivals }).findings[0]?.remedies).toEqual([
      { action: 'Play when 2 copies are through, or copy one card after the other', effect: 'they take 300 MB/s' },
    ]);
  });

  test('nothing is told below, and nothing concluded where nothing is known', () => {
    expect(evaluate({ ...HIGH, isHigh: false })).toMatchObject({ findings: [] });
    expect(evaluate({ ...HIGH, isHigh: false }).holds('stripe')).toBeNull();
    expect(evaluate(null).holds('stripe')).toBe('figure-unknown');
  });
});
