import { describe, expect, test } from 'vitest';
import { speedOverrun } from '../../../../src/core/advise/rules/speed-overrun.ts';
import type { SpeedAssessment } from '../../../../src/core/assess/assessment.ts';
import { NOTHING_MADE, sampleAssessment, sampleGroup, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };

function volumeWith(speed: Partial<SpeedAssessment>) {
  return sampleVolume({ speed: { ...sampleVolume().speed, ...speed } });
}

function evaluate(speed: Partial<SpeedAssessment>, over: Parameters<typeof sampleAssessment>[0] = {}) {
  return speedOverrun.evaluate(sampleAssessment({ volumes: [volumeWith(speed)], ...over }), THRESHOLDS);
}

describe('demand above the budget', () => {
  test.each([
    ['far below', 300e6, null],
    ['below the lower threshold', 377.9e6, null],
    ['between the thresholds', 378e6, 'between-thresholds'],
    ['at the budget', 420e6, 'between-thresholds'],
    ['above it', 420.1e6, 'warning'],
  ])('%s', (_, demandBps, expected) => {
    const { findings, holds } = evaluate({ demandBps });
    expect(findings[0]?.severity ?? holds('stripe')).toBe(expected);
  });

  test('the thresholds are shares of the budget', () => {
    const early = { ...THRESHOLDS, speedRaise: 0.5, speedClear: 0.25 };
    const verdictAt = (demandBps: number) => {
      const { findings, holds } = speedOverrun.evaluate(
        sampleAssessment({ volumes: [volumeWith({ demandBps })] }),
        early,
      );
      return findings[0]?.severity ?? holds('stripe');
    };
    expect([211e6, 209e6, 104e6].map(verdictAt)).toEqual(['warning', 'between-thresholds', null]);
  });

  test('nothing is claimed without a budget or a demand', () => {
    for (const speed of [{ readBudgetBps: null, demandBps: 9e9 }, { demandBps: null }]) {
      expect(evaluate(speed).findings).toEqual([]);
      expect(evaluate(speed).holds('stripe')).toBeNull();
    }
  });

  test('nor concluded from a root that hangs', () => {
    const { findings, holds } = evaluate({}, { volumes: [{ ...volumeWith({ demandBps: 9e9 }), state: 'hung' }] });
    expect(findings).toEqual([]);
    expect(holds('stripe')).toBe('root-not-live');
  });
});

const AVC = {
  codec: 'AVC',
  width: 1920,
  height: 1080,
  frameRate: { num: 50, den: 1 },
  clips: 4,
  bytes: 1e10,
  timedBytes: 1e10,
  durationSeconds: 1000,
};

describe('what it says', () => {
  const projects = [
    { ...NOTHING_MADE, sum: sampleSum({ volume: 'other', formats: [] }), multicam: [] },
    { ...NOTHING_MADE, sum: sampleSum({ formats: [AVC] }), multicam: [sampleGroup({ peakBps: 100e6 }), sampleGroup()] },
    { ...NOTHING_MADE, sum: sampleSum({ project: 'Saltmarsh' }), multicam: [sampleGroup({ peakBps: 540e6 })] },
    {
      ...NOTHING_MADE,
      sum: sampleSum({ project: 'Lock Keepers', volume: 'other' }),
      multicam: [sampleGroup({ peakBps: 900e6 })],
    },
  ];

  test('which project, how many angles, how much too much, and how many would fit', () => {
    const [finding] = evaluate({ demandBps: 550e6 }, { projects }).findings;
    expect(finding).toMatchObject({
      subject: 'stripe',
      severity: 'warning',
      message:
        'stripe: playing 5 angles of Tidewater Sessions at once needs 550 MB/s, 130 MB/s more than the 420 MB/s this volume may be asked for. Expect dropped frames.',
      figures: { demandBps: 550e6, budgetBps: 420e6, shortBps: 130e6, angles: 5, project: 'Tidewater Sessions' },
    });
    expect(finding?.remedies[0]).toEqual({
      action: 'Play 3 of the 5 angles at once',
      effect: 'needs about 330 MB/s of 420 MB/s',
    });
    expect(finding?.remedies[1]?.action).toBe(
      'Cut with angles in AVC 1920x1080 at 50 fps, as 4 clips of this project already are',
    );
    expect(finding?.remedies.slice(2)).toEqual([
      expect.objectContaining({ action: 'Edit from a volume that reads at least 786 MB/s' }),
    ]);
  });

  test('of a single clip it names the clip and has no angles to take away', () => {
    const [finding] = evaluate(
      { demandBps: 600e6, streams: 1, demandFrom: 'playing A\u001b001.mov, the heaviest of the newest clips,' },
      { projects },
    ).findings;
    expect(finding?.message).toMatch(
      /^stripe: playing A\\x1b001\.mov, the heaviest of the newest clips, needs 600 MB\/s, 180 MB\/s more/,
    );
    expect(finding).toMatchObject({ figures: { angles: 1, project: null } });
    // 600 MB/s are what is left of 857 when 30 % of them are kept free.
    expect(finding?.remedies).toEqual([
      {
        action: 'Edit from a volume that reads at least 857 MB/s',
        effect: '600 MB/s then stays within what may be asked for, here it is 420 MB/s',
      },
    ]);
  });
});
