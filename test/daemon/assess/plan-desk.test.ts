import { describe, expect, test } from 'vitest';
import { createPlanDesk } from '../../../src/daemon/assess/plan-desk.ts';
import type { PlanSettings } from '../../../src/settings/full-settings.ts';
import { NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../core/samples.ts';

const PLAN: PlanSettings = {
  project: 'Tidewater Sessions',
  days: ['2027-03-04'],
  cameras: 2,
  format: 'DNxHR SQ',
  width: 1920,
  height: 1080,
  frameRate: { num: 25, den: 1 },
  hours: 2,
};
const project = (volume: string) => ({ ...NOTHING_MADE, sum: sampleSum({ volume }), multicam: [] });

function desk(over: Parameters<typeof sampleAssessment>[0] = {}) {
  return createPlanDesk({
    settings: { plans: [PLAN], volumes: [] },
    assessment: () => sampleAssessment(over),
    today: () => '2027-03-01',
  });
}

describe('who is asked about a shoot', () => {
  test('the only volume', () => {
    expect(desk()({})).toMatchObject({
      answer: { volume: 'stripe', project: 'Tidewater Sessions', cameras: 2, budgetBps: 420e6, roomBytes: 6e11 },
    });
  });

  test('of several the one where the project lies, or the one that was named', () => {
    const volumes = [sampleVolume(), sampleVolume({ name: 'second', capacity: null })];
    const ask = desk({ volumes, projects: [project('second')] });
    expect(ask({})).toMatchObject({ answer: { volume: 'second', roomBytes: null } });
    expect(ask({ volume: 'stripe' })).toMatchObject({ answer: { volume: 'stripe' } });
    expect(ask({ volume: 'third' })).toEqual({ problem: 'there is no volume third; there are stripe, second' });
    expect(desk({ volumes })({})).toEqual({
      problem: 'it is not known on which volume Tidewater Sessions will lie; add --volume NAME: stripe, second',
    });
    expect(desk({ volumes })({ project: 'Saltmarsh' })).toMatchObject({
      problem: expect.stringMatching(/^no shoot day/),
    });
  });
});
