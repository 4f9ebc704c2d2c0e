import { describe, expect, test } from 'vitest';
import type { PlanAnswer } from '../../../src/core/assess/plan-answer.ts';
import { HOUR_MS } from '../../../src/core/forecast/growth.ts';
import type { PlannedShoot } from '../../../src/core/forecast/planned.ts';
import { createPlanBook } from '../../../src/daemon/assess/plan-book.ts';
import { createPlanDesk, plannedShoots } from '../../../src/daemon/assess/plan-desk.ts';
import type { PlanSettings } from '../../../src/settings/full-settings.ts';
import { NOON, NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../core/samples.ts';
import { fakeLedger } from '../../fakes/ledger.ts';

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

let chance: (volume: string, planned: readonly PlannedShoot[]) => number | null = () => null;

function wholeDesk(over: Parameters<typeof sampleAssessment>[0] = {}, changed = () => {}) {
  return createPlanDesk({
    settings: { volumes: [] },
    book: createPlanBook([PLAN], fakeLedger(), { now: () => NOON }),
    assessment: () => sampleAssessment(over),
    ...{ today: () => '2027-03-01', zone: 'UTC', chanceToFit: (volume, planned) => chance(volume, planned), changed },
  });
}

const desk = (over: Parameters<typeof sampleAssessment>[0] = {}) => wholeDesk(over).ask;

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

test('the chance that it fits is asked of the shoot as it is understood', () => {
  const asked: unknown[] = [];
  chance = (...args) => {
    asked.push(args);
    return 0.66;
  };
  const answer = desk()({ hours: 4 });
  chance = () => null;
  expect(answer).toMatchObject({ answer: { chanceFits: 0.66, hours: 4 } });
  const { bytesPerDay } = (answer as { answer: { bytesPerDay: number } }).answer;
  const fromHour = Date.UTC(2027, 2, 4) / HOUR_MS;
  expect(asked).toEqual([
    [
      'stripe',
      [
        {
          project: 'Tidewater Sessions',
          days: [{ fromHour, toHour: fromHour + 24, bytes: expect.closeTo(bytesPerDay, -1) }],
        },
      ],
    ],
  ]);
});

describe('a shoot that is kept', () => {
  test('is answered as asked, is planned from then on, and is judged again', async () => {
    let changes = 0;
    const { ask, keep } = wholeDesk({}, () => changes++);
    const answer = await keep({ cameras: 4, from: '2027-03-08', days: 3 });
    expect(answer).toMatchObject({ answer: { cameras: 4, days: ['2027-03-08', '2027-03-09', '2027-03-10'] } });
    expect(changes).toBe(1);
    // The configuration's day is before these and stays.
    expect(ask({})).toMatchObject({ answer: { cameras: 2, days: ['2027-03-04'] } });
    await keep({ cameras: 5 });
    expect(ask({})).toMatchObject({ answer: { cameras: 5, days: ['2027-03-04'] } });
  });

  test('lies on the volume that was named with it', async () => {
    const volumes = [sampleVolume(), sampleVolume({ name: 'second' })];
    const { ask, keep } = wholeDesk({ volumes });
    await keep({ volume: 'second' });
    expect(ask({})).toMatchObject({ answer: { volume: 'second' } });
    expect(ask({ volume: 'stripe' })).toMatchObject({ answer: { volume: 'stripe' } });
  });

  test('is forgotten by its project; what the configuration plans is named', async () => {
    const { ask, keep, drop } = wholeDesk();
    await keep({ cameras: 4 });
    expect(await drop('Tidewater Sessions')).toEqual({ dropped: 1, stay: ['2027-03-04'] });
    expect(ask({})).toMatchObject({ answer: { cameras: 2 } });
    expect(await drop('Tidewater Sessions')).toEqual({ dropped: 0, stay: ['2027-03-04'] });
  });

  test('is not kept when it cannot be answered, or nobody knows what it is for', async () => {
    let changes = 0;
    const { keep } = wholeDesk({}, () => changes++);
    expect(await keep({ volume: 'third' })).toMatchObject({ problem: expect.stringMatching(/no volume third/) });
    expect(await keep({ from: '2027-02-28' })).toEqual({
      problem: '2027-02-28 is past; it is 2027-03-01 now. What was shot by then counts by itself',
    });
    const book = createPlanBook([], fakeLedger(), { now: () => NOON });
    const { keep: keepUnnamed } = createPlanDesk({
      ...{ settings: { volumes: [] }, book, assessment: () => sampleAssessment({}), changed: () => changes++ },
      ...{ today: () => '2027-03-01', zone: 'UTC', chanceToFit: () => null },
    });
    const { project, days, width, height, frameRate: rate, ...rest } = PLAN;
    const whole = { ...rest, raster: { width, height }, rate };
    expect(await keepUnnamed(whole)).toEqual({ problem: 'name the project it is for, to keep it' });
    expect([changes, book.all()]).toEqual([0, []]);
    expect(await keepUnnamed({ ...whole, project: 'Saltmarsh' })).toMatchObject({ answer: { project: 'Saltmarsh' } });
    expect(book.all()).toHaveLength(1);
  });
});

describe('the days of planned shoots', () => {
  const shootsOf = (days: string[], zone: string, ahead = days) => {
    const answer = { plan: { ...PLAN, days: ahead }, bytesPerDay: 5e11 } as unknown as PlanAnswer;
    return plannedShoots([{ ...PLAN, days }], [answer], zone);
  };
  const lengths = (days: string[], zone: string) =>
    shootsOf(days, zone)[0]?.days.map(({ fromHour, toHour }) => toHour - fromHour);

  // Summer time in the Union: last Sunday of March to the last of October, at 01:00 UTC (Directive 2000/84/EC).
  test('have 23 and 25 hours when clocks are set', () => {
    const days = ['2027-03-27', '2027-03-28', '2027-03-29', '2027-10-31'];
    expect(lengths(days, 'Europe/Rome')).toEqual([24, 23, 24, 25]);
    expect(lengths(days, 'UTC')).toEqual([24, 24, 24, 24]);
    const [shoot] = shootsOf(['2027-03-28', '2027-03-29'], 'Europe/Rome');
    expect(shoot?.days[0]?.fromHour).toBe(Date.UTC(2027, 2, 27, 23) / HOUR_MS);
    expect(shoot?.days[1]?.fromHour).toBe(Date.UTC(2027, 2, 28, 22) / HOUR_MS);
    // Half an hour beside all others.
    expect(shootsOf(['2027-03-28'], 'Asia/Kolkata')[0]?.days[0]?.fromHour).toBe(
      Date.UTC(2027, 2, 27, 18, 30) / HOUR_MS,
    );
  });

  test('are all of a plan, those that are past as well; of one that nobody can reckon, none', () => {
    const days = ['2027-02-27', '2027-02-28', '2027-03-04'];
    expect(shootsOf(days, 'UTC', ['2027-03-04'])[0]?.days).toHaveLength(3);
    const unknown = { plan: PLAN, bytesPerDay: null } as unknown as PlanAnswer;
    expect(plannedShoots([PLAN], [unknown], 'UTC')).toEqual([]);
  });
});
