import { describe, expect, test } from 'vitest';
import type { CapacityForecast } from '../../../src/core/assess/capacity-forecast.ts';
import { overrunSentences } from '../../../src/core/present/overrun-words.ts';
import { snapshot } from '../../../src/core/present/snapshot.ts';
import { NOON, sampleAssessment, sampleVolume } from '../samples.ts';

const CROSSING = { at10: 2, at50: 4, at90: 11, within24h: 0, within72h: 0.31, within7d: 0.84 };
const FORECAST: CapacityForecast = {
  ...{ at: NOON, basis: 'shoot-days-seen', shootDays: 12, shootDayBytes: 200e9, planned: false },
  ...{
    reserve: CROSSING,
    full: { ...CROSSING, at50: 8 },
    withoutPlan: null,
    notHappening: [],
    band: null,
    history: [],
  },
};

function told(over: Partial<CapacityForecast>, roomBytes = 6e11): string[] {
  const [volume] = snapshot(sampleAssessment({ volumes: [sampleVolume({ forecast: { ...FORECAST, ...over } })] }), [], {
    version: 'x',
    page: null,
    zone: 'Europe/Rome',
  }).volumes;
  if (volume === undefined) throw new Error('a volume');
  return overrunSentences(
    { ...volume, capacity: { ...volume.capacity, roomBytes } },
    snapshot(sampleAssessment(), [], { version: 'x', page: null, zone: 'Europe/Rome' }).at,
  );
}

describe('when the room will be used up', () => {
  // NOON is Thursday, 4 March 2027.
  test('is told as a date with a range, what it assumes, and what it rests on', () => {
    expect(told({})).toEqual([
      'If nothing is deleted, its reserve is reached about Mon 8 Mar (in four cases of five from Sat 6 Mar to Mon 15 Mar), and full Fri 12 Mar. It rests on 12 days with footage.',
      'Chance of that within 24 hours 0 %, within 3 days 31 %, within 7 days 84 %.',
    ]);
  });

  test('without an end of the range, and as an early estimate', () => {
    const [date] = told({
      basis: 'early-estimate',
      shootDays: 4,
      reserve: { ...CROSSING, at10: 0.2, at50: 1, at90: null },
      full: null,
    });
    expect(date).toBe(
      'If nothing is deleted, its reserve is reached about tomorrow (in four cases of five from today on). An early estimate: it rests on 4 days with footage.',
    );
  });

  test('beside the date without the plan', () => {
    expect(told({ planned: true, withoutPlan: { ...CROSSING, at50: 303 } })[0]).toMatch(
      /It rests on 12 days with footage and the shoot plan; without the plan it would be about Sat 1 Jan 2028\.$/,
    );
    expect(told({ planned: true })[0]).toMatch(/and the shoot plan, without which it would not be so soon\.$/);
  });

  test('later than anyone can tell', () => {
    const never = { ...CROSSING, at50: null, at90: null, within72h: 0, within7d: 0 };
    expect(told({ reserve: { ...never, at10: 30 } })).toEqual([
      expect.stringMatching(/more likely not reached within 45 days; in one case of ten it is by Sat 3 Apr\./),
    ]);
    expect(told({ reserve: { ...never, at10: null } })[0]).toMatch(
      /not reached within 45 days, as far as can be told\./,
    );
  });

  test('is not told from too little, nor when it is reached', () => {
    const little = { basis: 'not-enough-history', shootDays: 1, reserve: null, full: null } as const;
    expect(told(little)).toEqual([
      'When it will be full is not known yet: footage enough to reckon with came on 1 day so far, a date is told from three on, or with a shoot plan.',
    ]);
    expect(told({}, -1)).toEqual([]);
  });
});
