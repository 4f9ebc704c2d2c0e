import { describe, expect, test } from 'vitest';
import { levelChoices } from '../../../src/core/assess/level-choices.ts';
import { answerPlan, type PlannedOn, verdictAt } from '../../../src/core/assess/plan-answer.ts';
import { type PlanQuestion, readQuestion, understandPlan } from '../../../src/core/assess/plan-question.ts';
import type { ShootPlan } from '../../../src/core/assess/shoot-plan.ts';
import { cameraRate } from '../../../src/core/assess/shoot-plan.ts';
import type { FormatSum } from '../../../src/core/store-ports.ts';
import { sampleGives } from '../samples.ts';

const PLAN: ShootPlan = {
  project: 'Tidewater Sessions',
  days: ['2027-03-04', '2027-03-05'],
  cameras: 5,
  format: 'ProRes 422 HQ',
  width: 3840,
  height: 2160,
  frameRate: { num: 25, den: 1 },
  hours: 6,
};
const FORMAT: FormatSum = {
  codec: 'ProRes 422 HQ',
  width: 3840,
  height: 2160,
  frameRate: { num: 50, den: 2 },
  clips: 4,
  bytes: 9e11,
  timedBytes: 8e11,
  durationSeconds: 10_000,
};
const ON: PlannedOn = {
  volume: 'stripe',
  gives: sampleGives(1000e6),
  reserve: 0.3,
  layout: { level: '0', members: 4, drive: 'nvme', link: null },
  totalBytes: 16e12,
  roomBytes: 12e12,
  nights: [],
};

describe('what one camera records', () => {
  test('as clips of the project are, else of other projects, else as published', () => {
    const other = { project: 'Saltmarsh', formats: [{ ...FORMAT, timedBytes: 7e11 }] };
    expect(cameraRate(PLAN, [other, { project: PLAN.project, formats: [FORMAT] }])).toEqual({
      bps: 80e6,
      from: 'own-project',
      source: null,
      clips: 4,
    });
    expect(cameraRate(PLAN, [other])).toMatchObject({ bps: 70e6, from: 'own-clips' });
    expect(cameraRate(PLAN, [])).toMatchObject({ from: 'published-most', clips: 0 });
    expect(cameraRate({ ...PLAN, format: 'DNxHR SQ' }, [])).toMatchObject({
      bps: 2_408_448 * 25,
      from: 'published-exact',
    });
    expect(cameraRate({ ...PLAN, format: 'H.265' }, [])).toBeNull();
  });

  test.each([
    ['another raster', { width: 1920 }],
    ['another rate', { frameRate: { num: 24, den: 1 } }],
    ['no known rate', { frameRate: null }],
    ['another codec', { codec: 'ProRes 422' }],
    ['no known codec', { codec: null }],
    ['no known length', { durationSeconds: 0 }],
  ])('not as clips of %s', (_, over: Partial<FormatSum>) => {
    expect(cameraRate(PLAN, [{ project: PLAN.project, formats: [{ ...FORMAT, ...over }] }])?.from).toBe(
      'published-most',
    );
  });
});

describe('the answer to a plan', () => {
  const formats = [{ project: PLAN.project, formats: [FORMAT] }];

  test('bytes, room, speed', () => {
    const answer = answerPlan(PLAN, ON, formats);
    // Five cameras of 80 MB/s for six hours are 8.64 TB; one more stream in a transition and a tenth for scrubbing: 520 MB/s.
    expect(answer).toMatchObject({
      bytesPerCameraHour: 288e9,
      bytesPerDay: 8.64e12,
      bytesTotal: 17.28e12,
      fits: false,
      fullOn: '2027-03-05',
      demandBps: 520e6,
      budgetBps: 700e6,
      anglesLeft: 2,
      backupSeconds: null,
      windowFits: null,
    });
    const nights = (nightBytes: number, shelves: number) => {
      return answerPlan(PLAN, { ...ON, nights: [{ shelves, nightBytes, windowSeconds: 21_600 }] }, formats);
    };
    // A night that takes 17.28 TB takes a day of 8.64 TB in half its six hours, and to two shelves in all of them.
    expect(nights(17.28e12, 1)).toMatchObject({ backupSeconds: 10_800, windowFits: true });
    expect(nights(17.28e12, 2)).toMatchObject({ backupSeconds: 21_600, windowFits: true });
    expect(nights(8e12, 1)).toMatchObject({ backupSeconds: 23_328, windowFits: false });
    expect(answerPlan(PLAN, { ...ON, roomBytes: 18e12 }, formats)).toMatchObject({ fits: true, fullOn: null });
    expect(answerPlan(PLAN, { ...ON, roomBytes: -1 }, formats)).toMatchObject({ fits: false, fullOn: '2027-03-04' });
  });

  test('as little as is known', () => {
    const unknown = { ...ON, gives: null, totalBytes: null, roomBytes: null };
    expect(answerPlan({ ...PLAN, format: 'H.265' }, unknown, [])).toMatchObject({
      rate: null,
      bytesPerDay: null,
      fits: null,
      fullOn: null,
      demandBps: null,
      budgetBps: null,
      layouts: [],
    });
    expect(answerPlan(PLAN, { ...ON, layout: null }, formats).layouts).toEqual([]);
  });

  test('the same members at another level: less room and speed, and what may fail', () => {
    const answer = answerPlan(PLAN, { ...ON, roomBytes: 17.5e12 }, formats);
    expect(answer.layouts.map(({ level }) => level)).toEqual(['0', '10', '4', '5', '6']);
    const [now, ten, , five, six] = answer.layouts;
    if (now === undefined || ten === undefined || five === undefined || six === undefined) throw new Error('levels');
    expect(now).toMatchObject({ isNow: true, usableBytes: 16e12, readBudgetBps: 700e6, survives: 0 });
    expect([ten.usableBytes, five.usableBytes, six.usableBytes]).toEqual([8e12, 12e12, 8e12]);
    expect([ten.survives, five.survives, six.survives]).toEqual([1, 1, 2]);
    expect(five.writeBudgetBps).toBeLessThan(five.readBudgetBps);
    expect(verdictAt(answer, now)).toEqual({ level: '0', moreBytes: 0, fits: true, plays: true });
    expect(verdictAt(answer, five)).toEqual({ level: '5', moreBytes: -4e12, fits: false, plays: true });
    expect(verdictAt(answer, ten)).toMatchObject({ fits: false, plays: false });
    // Common practice, no source: a stripe with a nightly backup costs less than giving up speed for parity.
    expect(now.readBudgetBps).toBeGreaterThan(five.readBudgetBps);
  });

  test.each([
    [1, 'single', ['single']],
    [2, '1', ['1', '0']],
    [3, '5', ['5', '0', '4']],
    [6, '10', ['10', '0', '4', '5', '6']],
  ] as const)('levels of %i members, now %s', (members, level, levels) => {
    const layout = { level, members, drive: 'hdd', link: null } as const;
    const choices = levelChoices({ layout, totalBytes: 1e12, gives: sampleGives(1e8), reserve: 0 }, 1);
    expect(choices.map((choice) => choice.level)).toEqual(levels);
    expect(choices[0]).toMatchObject({ isNow: true, usableBytes: 1e12, readBudgetBps: 1e8 });
  });
});

describe('what is asked', () => {
  const later = { ...PLAN, project: 'Lock Keepers', days: ['2027-05-01', '2027-05-02'] };
  const understood = (question: PlanQuestion, today = '2027-03-01', plans = [later, PLAN]) =>
    understandPlan(plans, question, today);

  test('the plan that begins first, and what else is planned', () => {
    expect(understood({})).toEqual({ ok: true, plan: PLAN, others: ['Lock Keepers'] });
    expect(understood({ project: 'Lock Keepers' })).toEqual({ ok: true, plan: later, others: [] });
  });

  test('days that are over are no longer to come', () => {
    expect(understood({}, '2027-03-05')).toMatchObject({ plan: { days: ['2027-03-05'] } });
    expect(understood({}, '2027-03-06')).toMatchObject({ plan: { project: 'Lock Keepers' } });
  });

  test('with something else than planned', () => {
    const raster = { width: 1920, height: 1080 };
    const rate = { num: 50, den: 1 };
    expect(understood({ cameras: 2, format: 'DV25', raster, rate, hours: 1, days: 2 }, '2027-02-28')).toEqual({
      ok: true,
      plan: {
        ...{ project: PLAN.project, days: ['2027-02-28', '2027-03-01'], cameras: 2, format: 'DV25' },
        ...{ width: 1920, height: 1080, frameRate: rate, hours: 1 },
      },
      others: ['Lock Keepers'],
    });
  });

  test('without a plan the question says all, or hears what is missing', () => {
    const raster = { width: 1920, height: 1080 };
    const all = { cameras: 2, format: 'DV25', raster, rate: { num: 25, den: 1 }, hours: 1 };
    expect(understood(all, '2027-02-28', [])).toMatchObject({
      ok: true,
      plan: { project: 'this shoot', days: ['2027-02-28'] },
    });
    expect(understood({ cameras: 2 }, '2027-03-01', [])).toEqual({
      ok: false,
      problem:
        'no shoot is planned; write a [[plan]] into the configuration, or say the rest of it: --format, --raster, --rate, --hours (and --keep, to keep it)',
    });
    const { hours, ...noHours } = all;
    expect(hours).toBe(1);
    expect(understood(noHours, '2028-01-01')).toMatchObject({
      problem: expect.stringMatching(/have passed.*: --hours$/),
    });
    expect(understood({ project: 'Saltmarsh' })).toMatchObject({
      problem: expect.stringMatching(
        /^no shoot day to come is planned for Saltmarsh; there are plans for Lock Keepers, /,
      ),
    });
  });

  test('as it comes over the wire, whatever that is', () => {
    const good: PlanQuestion = {
      ...{ project: 'a', volume: 'b', format: 'c', cameras: 2, hours: 1.5, days: 3 },
      ...{ raster: { width: 3, height: 4 }, rate: { num: 24000, den: 1001 } },
    };
    expect(readQuestion(JSON.parse(JSON.stringify(good)))).toEqual(good);
    const bad = { project: 3, cameras: 'x', hours: -1, days: 1e9, raster: { width: 3 }, rate: 25 };
    for (const told of [null, 7, 'text', [], bad]) expect(readQuestion(told)).toEqual({});
  });
});
