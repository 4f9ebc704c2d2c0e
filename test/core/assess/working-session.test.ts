import { describe, expect, test } from 'vitest';
import { type SessionQuestion, workingSession } from '../../../src/core/assess/working-session.ts';
import { NOON } from '../samples.ts';

const HOUR = 3_600_000;
const came = (hoursAgo: number) => [{ hour: Math.floor(NOON / HOUR) - hoursAgo, ingestBytes: 1e9 }];
const GOING_ON: SessionQuestion = {
  ...{ plans: [], configured: null, hours: came(3), at: NOON, zone: 'UTC', bps: 100e6 },
  forecast: { basis: 'shoot-days-seen', shootDayBytes: 1.8e12 },
};
const session = (over: Partial<SessionQuestion>) => workingSession({ ...GOING_ON, ...over });

describe('how long a working session is', () => {
  test('as long as shoot days were, at the rate of now: 1.8 TB at 100 MB/s are 5 h', () => {
    expect(session({})).toEqual({ seconds: 18_000, basis: 'shoot-days' });
  });

  test('what is configured counts before a plan, a plan before what was', () => {
    const plans = [{ days: ['2027-03-05', '2027-03-06'], hours: 6 }];
    expect(session({ plans })).toEqual({ seconds: 21_600, basis: 'plan' });
    expect(session({ plans: [...plans, { days: ['2027-03-04'], hours: 8 }] })?.seconds).toBe(28_800);
    expect(session({ plans, configured: 900 })).toEqual({ seconds: 900, basis: 'configured' });
    // The day after tomorrow is not near; in a zone ahead it may be tomorrow there.
    expect(session({ plans: [{ days: ['2027-03-06'], hours: 6 }] })?.basis).toBe('shoot-days');
    expect(session({ plans: [{ days: ['2027-03-06'], hours: 6 }], zone: '+14:00' })?.basis).toBe('plan');
  });

  test('never less than an hour where nobody has said so, nor more than twelve', () => {
    const least = { seconds: 3_600, basis: 'least' };
    expect(session({ forecast: { basis: 'shoot-days-seen', shootDayBytes: 3e10 } })).toEqual(least);
    expect(session({ forecast: { basis: 'not-enough-history', shootDayBytes: 1.8e12 } })).toEqual(least);
    expect(session({ forecast: null })).toEqual(least);
    expect(session({ bps: null })).toEqual(least);
    expect(session({ forecast: { basis: 'early-estimate', shootDayBytes: 9e13 } })?.seconds).toBe(43_200);
  });

  test('none while no shoot goes on: nothing came for two days, and none is planned for today or tomorrow', () => {
    expect(session({ hours: came(48) })).not.toBeNull();
    expect(session({ hours: came(50) })).toBeNull();
    expect(session({ hours: [] })).toBeNull();
    expect(session({ hours: [], configured: 900 })).toBeNull();
    expect(session({ hours: [], plans: [{ days: ['2027-03-04'], hours: 6 }] })?.basis).toBe('plan');
  });
});
