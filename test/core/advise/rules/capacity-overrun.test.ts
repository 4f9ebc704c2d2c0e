import { describe, expect, test } from 'vitest';
import { capacityOverrun } from '../../../../src/core/advise/rules/capacity-overrun.ts';
import { planMissed } from '../../../../src/core/advise/rules/plan-missed.ts';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import type { CapacityForecast } from '../../../../src/core/assess/capacity-forecast.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleCopies, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const CROSSING = { at10: 2, at50: 3, at90: 6, within24h: 0.1, within72h: 0.6, within7d: 0.95 };
const FORECAST: CapacityForecast = {
  ...{ at: NOON, basis: 'shoot-days-seen', shootDays: 12, shootDayBytes: 200e9, planned: false },
  ...{ reserve: CROSSING, full: CROSSING, withoutPlan: null, notHappening: [], band: null, history: [] },
};
const within72h = (chance: number): CapacityForecast => ({ ...FORECAST, reserve: { ...CROSSING, within72h: chance } });
const evaluate = (over: Partial<VolumeAssessment>) =>
  capacityOverrun.evaluate(
    sampleAssessment({
      volumes: [sampleVolume({ forecast: FORECAST, ...over })],
      projects: [{ ...NOTHING_MADE, sum: sampleSum({ bytes: 9e11 }), copies: sampleCopies(8e11), multicam: [] }],
    }),
    THRESHOLDS,
  );

describe('a reserve that will be reached within three days', () => {
  test('is told with the chance, what is left, and what would help for how many shoot days', () => {
    const [finding] = evaluate({}).findings;
    expect(finding).toMatchObject({ kind: 'capacity-overrun', subject: 'stripe', severity: 'warning' });
    expect(finding?.message).toBe(
      'stripe will probably reach its reserve within three days (chance 60 %) if nothing is deleted: 600 GB are left above the 400 GB kept free, and a day of shooting brings about 200 GB.',
    );
    expect(finding?.remedies[0]).toEqual({
      action:
        'Move project Tidewater Sessions to another volume: all 800 GB of it have 2 verified copies, on shelf-a and shelf-b, each read back on 2027-02-25 or later',
      effect:
        'frees 800 GB and leaves 1.80 TB to write, about 4 shoot days more. Look at those copies before anything is removed',
    });
    const soon = { ...FORECAST, reserve: { ...CROSSING, within24h: 0.7 }, withoutPlan: CROSSING };
    expect(evaluate({ forecast: soon }).findings[0]?.message).toMatch(
      /it may be so within a day \(70 %\).*, plans included\.$/,
    );
  });

  test.each<[string, Partial<VolumeAssessment>, 'finding' | string | null]>([
    ['likely enough', { forecast: within72h(0.5) }, 'finding'],
    ['not likely enough to be raised, nor to be cleared', { forecast: within72h(0.49) }, 'between-thresholds'],
    ['just likely enough to stand', { forecast: within72h(0.05) }, 'between-thresholds'],
    ['unlikely', { forecast: within72h(0.04) }, null],
    ['without a forecast', { forecast: null }, 'figure-unknown'],
    ['without enough history', { forecast: { ...FORECAST, reserve: null } }, null],
    ['away', { state: 'absent' }, 'root-not-live'],
  ])('%s', (_, over, expected) => {
    const { findings, holds } = evaluate(over);
    expect(findings.length === 1 ? 'finding' : holds('stripe')).toBe(expected);
  });

  test('between its thresholds has words for where it stands, with what is left now', () => {
    const { findings, standing } = evaluate({ forecast: within72h(0.3) });
    expect(findings).toEqual([]);
    expect(standing?.map(({ message }) => message)).toEqual([
      'stripe may reach its reserve within three days (chance 30 %) if nothing is deleted: 600 GB are left above the 400 GB kept free, and a day of shooting brings about 200 GB.',
    ]);
  });

  test('is another advisory once it is reached', () => {
    const space = { totalBytes: 4e12, freeBytes: 3e11, availableBytes: 3e11 };
    expect(evaluate({ capacity: { space, reserveBytes: 4e11, roomBytes: -1e11 } }).findings).toEqual([]);
  });
});

describe('a plan that does not happen', () => {
  const of = (over: Partial<VolumeAssessment>) =>
    planMissed.evaluate(sampleAssessment({ volumes: [sampleVolume(over)] }), THRESHOLDS);

  test('is asked about', () => {
    const { findings } = of({ forecast: { ...FORECAST, notHappening: ['Lock Keepers'] } });
    expect(findings).toMatchObject([{ kind: 'plan-missed', subject: 'stripe/Lock Keepers', severity: 'notice' }]);
    expect(findings[0]?.message).toMatch(
      /^Lock Keepers was to be shot .* nothing came to stripe\. .* on other days\?$/,
    );
  });

  test('is over when it happens; of a volume of which nothing is known nothing is concluded', () => {
    expect(of({ forecast: FORECAST }).holds('stripe/Lock Keepers')).toBeNull();
    expect(of({ forecast: null }).holds('stripe/Lock Keepers')).toBe('figure-unknown');
  });
});
