import { describe, expect, test } from 'vitest';
import { answerPlan, type PlannedOn } from '../../../src/core/assess/plan-answer.ts';
import type { ShootPlan } from '../../../src/core/assess/shoot-plan.ts';
import { type PlanSnapshot, planJson } from '../../../src/core/present/plan-json.ts';
import { planScreen } from '../../../src/core/present/plan-screen.ts';
import { sampleGives } from '../samples.ts';

const PLAN: ShootPlan = {
  project: 'Tidewater Sessions',
  days: ['2027-03-04', '2027-03-05'],
  cameras: 5,
  format: 'DNxHR SQ',
  width: 3840,
  height: 2160,
  frameRate: { num: 25, den: 1 },
  hours: 6,
};
const ON: PlannedOn = {
  volume: 'stripe',
  gives: sampleGives(1000e6),
  reserve: 0.3,
  layout: { level: '0', members: 4, drive: 'nvme', link: null },
  totalBytes: 16e12,
  roomBytes: 14e12,
  nights: [],
};
const of = (plan: Partial<ShootPlan> = {}, on: Partial<PlannedOn> = {}) =>
  planJson(answerPlan({ ...PLAN, ...plan }, { ...ON, ...on }, []), []);
/** One line, so that breaks do not matter. */
const told = (plan: PlanSnapshot) => planScreen(plan, 80).replace(/\s+/g, ' ');

describe('the answer in sentences', () => {
  test('with the chance that it fits with all that comes besides, where that is known', () => {
    expect(told({ ...of(), chanceFits: 0.66 })).toContain(
      '994 GB are left after the shoot. With all else that comes as it did lately, and days as long or short as they turn out, it fits in 7 of 10 cases. ',
    );
    expect(told(of())).not.toContain('cases');
  });

  test('all of it', () => {
    const text = told(of());
    expect(text).toMatch(
      /^Tidewater Sessions, on 2 days from 2027-03-04 to 2027-03-05: 5 cameras, DNxHR SQ 3840x2160 at 25 fps, 6 h a day each\. /,
    );
    expect(text).toContain(
      'Footage 217 GB for each camera and hour (60.2 MB/s, by SMPTE ST 2019-1, resolution-independent compression IDs); 6.50 TB a day, 13.0 TB in all.',
    );
    expect(text).toContain(
      'It fits: stripe takes 14.0 TB more before its reserve is touched, 994 GB are left after the shoot.',
    );
    expect(text).toContain(
      'It plays: playing 5 angles at once, with a transition and going back and forth, needs 391 MB/s of the 700 MB/s that stripe may be asked for (declared); 4 more angles of them would play.',
    );
    expect(text).toContain('6.50 TB a day must be copied and read back each night;');
    expect(text).toContain(
      'The same 4 members at level 0, as now: - 16.0 TB in all, plays (700 MB/s to read, 700 MB/s to write); one failed member loses everything: all is lost with a chance of 6.8 % in a year, 0.019 % from night to night.',
    );
    expect(text).toContain('- level 5: does not fit (4.00 TB less room), plays (');
    expect(text).toContain('any one member may fail: all is lost with a chance of 1.0 % in a year,');
    expect(text).toContain('any 2 members may fail');
    expect(
      planScreen(of(), 80)
        .split('\n')
        .every((line) => line.length <= 80),
    ).toBe(true);
  });

  test('one camera on one day, more than there is', () => {
    const text = told(of({ cameras: 1, days: ['2027-03-04'] }, { gives: sampleGives(50e6), roomBytes: 1e11 }));
    expect(text).toMatch(/^Tidewater Sessions, on 2027-03-04: one camera, .*, 6 h a day\. /);
    expect(text).toContain(
      'It does not fit: stripe takes 100 GB more before its reserve is touched, 1.20 TB too little. They are used up on 2027-03-04.',
    );
    expect(text).toContain(
      'It does not play: playing one camera, with a transition and going back and forth, needs 126 MB/s, 91.4 MB/s more than the 35.0 MB/s that stripe may be asked for (declared).',
    );
    expect(text).toContain('level 0, as now: - 16.0 TB in all, does not play (');
  });

  test('as little as is known', () => {
    const text = told(of({ format: 'H.265' }, { gives: null, totalBytes: null, roomBytes: null }));
    expect(text).toContain('Footage Not known: no clip in H.265 of this raster and frame rate is here,');
    expect(text).toContain("Capacity Not known. Speed Not known. Safety A day's footage must be copied");
    expect(text).not.toContain('members');
    expect(told(of({}, { gives: null }))).toContain('; what stripe gives is neither declared nor measured.');
  });

  test('where the rate and the speed come from', () => {
    const from = (over: Partial<PlanSnapshot>) => told({ ...of(), ...over });
    expect(from({ rateFrom: 'own-project', rateClips: 1 })).toContain(', as 1 clip of Tidewater Sessions is)');
    expect(from({ rateFrom: 'own-project', rateClips: 12 })).toContain(', as 12 clips of Tidewater Sessions are)');
    expect(from({ rateFrom: 'own-clips', rateClips: 1 })).toContain(', as 1 clip of other projects is)');
    expect(from({ rateFrom: 'own-clips', rateClips: 2 })).toContain(', as 2 clips of other projects are)');
    expect(from({ rateFrom: 'published-most' })).toContain('; real footage is mostly less)');
    expect(from({ basis: 'layout' })).toContain('; such drives differ, "headroomd measure stripe" tells)');
    expect(from({ basis: 'measured' })).toContain(' (700 MB/s to 700 MB/s, measured)');
    expect(from({ basis: 'observed' })).toContain(', seen at work)');
    expect(from({ basis: null, budgetLowBps: null })).toContain(' that stripe may be asked for;');
    expect(from({ anglesLeft: 0 })).toContain('; no further angle would play.');
    expect(from({ anglesLeft: 999 })).toContain('; many more angles would play.');
    expect(from({ others: ['Lock Keepers'] })).toMatch(/Planned as well: Lock Keepers \(headroomd plan NAME\)\. $/);
  });
});
