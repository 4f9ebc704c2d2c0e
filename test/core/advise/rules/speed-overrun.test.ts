import { describe, expect, test } from 'vitest';
import { speedOverrun } from '../../../../src/core/advise/rules/speed-overrun.ts';
import type {
  Assessment,
  MulticamGroup,
  ProjectAssessment,
  SpeedAssessment,
} from '../../../../src/core/assess/assessment.ts';
import { answerPlan } from '../../../../src/core/assess/plan-answer.ts';
import { streamShare } from '../../../../src/core/assess/stream-share.ts';
import {
  NOON,
  NOTHING_MADE,
  sampleArrival,
  sampleAssessment,
  sampleGives,
  sampleGroup,
  sampleSum,
  sampleVolume,
} from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const PROJECT = 'stripe/Tidewater Sessions';

function volumeWith(speed: Partial<SpeedAssessment>) {
  return sampleVolume({ speed: { ...sampleVolume().speed, ...speed } });
}

describe('a single clip above the budget', () => {
  const parts = (anglesBps: number) => {
    return { anglesBps, spreadBps: 0, transitionBps: anglesBps, scrubBps: anglesBps / 10, ambientBps: 0 };
  };
  function evaluate(demandBps: number | null, over: Partial<SpeedAssessment> = {}, thresholds = THRESHOLDS) {
    const demandParts = demandBps === null ? null : parts(demandBps / 2.1);
    const speed = { demandBps, demandParts, streams: 1, demandFrom: 'playing A\u001b001.mov', ...over };
    return speedOverrun.evaluate(sampleAssessment({ volumes: [volumeWith(speed)] }), thresholds);
  }

  test.each([
    ['far below', 300e6, null],
    ['below the lower threshold', 377.9e6, null],
    ['between the thresholds', 378e6, 'between-thresholds'],
    ['at the budget', 420e6, 'between-thresholds'],
    ['above it', 420.1e6, 'warning'],
  ])('%s', (_, demandBps, expected) => {
    const { findings, holds } = evaluate(demandBps);
    expect(findings[0]?.severity ?? holds('stripe')).toBe(expected);
  });

  test('the thresholds are shares of the budget', () => {
    const early = { ...THRESHOLDS, speedRaise: 0.5, speedClear: 0.25 };
    const verdictAt = (demandBps: number) => {
      const { findings, holds } = evaluate(demandBps, {}, early);
      return findings[0]?.severity ?? holds('stripe');
    };
    expect([211e6, 209e6, 104e6].map(verdictAt)).toEqual(['warning', 'between-thresholds', null]);
    expect(evaluate(300e6, {}, early).findings[0]?.message).toMatch(/needs 300 MB\/s, close to the 420 MB\/s/);
  });

  test('nothing is claimed without a budget or a demand, nor of a root that hangs', () => {
    expect(evaluate(9e9, { readBudgetBps: null }).findings).toEqual([]);
    expect(evaluate(null).findings).toEqual([]);
    const hung = { ...volumeWith({ demandBps: 9e9, demandParts: parts(4e9), streams: 1 }), state: 'hung' as const };
    const { findings, holds } = speedOverrun.evaluate(sampleAssessment({ volumes: [hung] }), THRESHOLDS);
    expect(findings).toEqual([]);
    expect([holds('stripe'), holds(PROJECT), holds('other')]).toEqual(['root-not-live', 'root-not-live', null]);
  });

  test('what it says; what else goes on there ends again, and is not counted', () => {
    const demandParts = { ...parts(300e6), ambientBps: 100e6 };
    const [finding] = evaluate(730e6, { demandParts, basis: 'layout' }).findings;
    expect(finding?.message).toBe(
      'stripe: playing A\\x1b001.mov needs 630 MB/s, 210 MB/s more than the 420 MB/s this volume may be asked for (expected of such drives, not measured). Expect dropped frames.',
    );
    expect(finding).toMatchObject({ figures: { angles: 1, project: null, basis: 'layout' } });
    expect(finding?.remedies).toEqual([
      {
        action: 'Edit from a volume that reads at least 900 MB/s',
        effect: '630 MB/s then stays within what may be asked for, here it is 420 MB/s',
      },
    ]);
  });
});

describe('angles that are played together', () => {
  // Five angles of 100 MB/s, spread 50: with a transition and scrubbing 700 MB/s.
  const gives = (budgetBps: number) => ({
    gives: sampleGives(budgetBps / 0.7),
    basis: 'measured' as const,
    streams: 5,
  });
  function evaluate(
    budgetBps: number,
    {
      group = {},
      edit = {},
      speed = {},
      ...over
    }: {
      group?: Partial<MulticamGroup>;
      edit?: Partial<ProjectAssessment['edit']>;
      speed?: Partial<SpeedAssessment>;
    } & Partial<Assessment> = {},
  ) {
    const project = { ...NOTHING_MADE, sum: sampleSum(), multicam: [sampleGroup(group)] };
    const projects = [{ ...project, edit: { ...NOTHING_MADE.edit, ...edit } }];
    const volumes = [volumeWith({ ...gives(budgetBps), ...speed })];
    return speedOverrun.evaluate(sampleAssessment({ volumes, projects, ...over }), THRESHOLDS);
  }
  const withProxies = sampleGroup().members.map((member) => {
    return { ...member, proxy: { path: `${member.camera}_Proxy.mov`, bps: 5e6 } };
  });

  test('that cameras ran together alone is a notice, which says what to do: nothing, unless it is cut so', () => {
    const [finding] = evaluate(600e6).findings;
    expect(finding).toMatchObject({ subject: PROJECT, severity: 'notice', figures: { use: null, angles: 5 } });
    expect(finding?.message).toBe(
      'stripe: 5 cameras of Tidewater Sessions ran at the same time (cameras A, B, C, D, E; same timecode on cameras A, B, C, D, E at 25 fps). Playing 5 angles of Tidewater Sessions at once needs 700 MB/s, 100 MB/s more than the 600 MB/s this volume may be asked for. Nothing to do unless it is cut as multicam.',
    );
    expect(finding?.figures).toMatchObject({
      demandBps: 700e6,
      budgetBps: 600e6,
      originalsBps: 700e6,
      proxiesBps: null,
    });
  });

  test('a warning where it is declared, planned, or seen to be played', () => {
    const of = (edit: Partial<ProjectAssessment['edit']>) => evaluate(600e6, { edit }).findings[0];
    expect(of({ declared: true })).toMatchObject({ severity: 'warning', figures: { use: 'declared' } });
    expect(of({ declared: true })?.message).toMatch(/The configuration says .* Expect dropped frames\.$/);
    expect(of({ plannedCameras: 5 })).toMatchObject({ severity: 'warning', figures: { use: 'planned' } });
    const read = ['A', 'C'].map((camera) => `Tidewater Sessions/${camera}001.mov`);
    expect(of({ beingRead: new Set(read) })).toMatchObject({ severity: 'warning', figures: { use: 'played' } });
    expect(of({ beingRead: new Set(read.slice(1)) })).toMatchObject({ severity: 'notice' });
  });

  test('angles that are guessed are never a warning', () => {
    expect(evaluate(600e6, { group: { confidence: 0.5 }, edit: { declared: true } }).findings[0]?.severity).toBe(
      'notice',
    );
  });

  test('what else goes on counts where it is played, and not where nobody is known to', () => {
    const speed = { ambient: { readBps: 0, writeBps: 200e6 } };
    expect(evaluate(800e6, { speed }).findings).toEqual([]);
    const [finding] = evaluate(800e6, { speed, edit: { declared: true } }).findings;
    expect(finding).toMatchObject({ severity: 'warning', figures: { demandBps: 900e6 } });
    expect(finding?.remedies[0]?.action).toMatch(/^Pause copies, renders and backups/);
  });

  test('with proxies of all angles it is those that are played, unless the originals are seen', () => {
    expect(evaluate(600e6, { group: { members: withProxies } }).findings).toEqual([]);
    const edit = { beingRead: new Set(withProxies.map(({ path }) => path)) };
    expect(evaluate(600e6, { group: { members: withProxies }, edit }).findings[0]).toMatchObject({
      severity: 'warning',
      figures: { originalsBps: 700e6, proxiesBps: 32.5e6 },
    });
    const proxiesRead = { beingRead: new Set(withProxies.map(({ proxy }) => proxy.path)) };
    const [tooMuch] = evaluate(20e6, { group: { members: withProxies }, edit: proxiesRead }).findings;
    expect(tooMuch?.message).toMatch(/playing 5 angles of Tidewater Sessions at once, as proxies, needs 32\.5 MB\/s/);
    expect(tooMuch?.severity).toBe('warning');
  });

  test('the next angle is told before it is there', () => {
    const arrivals = [
      sampleArrival({ path: 'Tidewater Sessions/F001C001_270304.mov' }),
      // Of a camera that is there already, of another project, ready, and of no known camera.
      sampleArrival({ path: 'Tidewater Sessions/E001C009_270304.mov' }),
      sampleArrival({ path: 'Saltmarsh/G001C001_270304.mov' }),
      sampleArrival({ path: 'Tidewater Sessions/H001C001_270304.mov', stage: 'ready' }),
      sampleArrival({ path: 'Tidewater Sessions/clip.mov' }),
    ];
    // Five need 700 MB/s, six 820.
    expect(evaluate(800e6).findings).toEqual([]);
    const [finding] = evaluate(800e6, { arrivals, edit: { declared: true } }).findings;
    expect(finding).toMatchObject({ severity: 'notice', figures: { coming: 'F', angles: 6 } });
    expect(finding?.message).toMatch(
      /^Camera F of Tidewater Sessions is arriving on stripe\. If they ran with the 5 angles that are here \(cameras A, B, C, D, E; .*\), playing 6 angles of Tidewater Sessions at once needs 8\d\d MB\/s, .* more than the 800 MB\/s/,
    );
    expect(evaluate(800e6, { arrivals, at: NOON + 25 * 3_600_000 }).findings).toEqual([]);
    expect(evaluate(800e6, { arrivals, group: { members: withProxies } }).findings).toEqual([]);
  });

  test('what plays now on rotating drives, and will not when they are full, is a notice', () => {
    // Nine tenths of 4 TB will be in use then, three quarters are now: (1 - .45) / (1 - .375) of the speed are left.
    const turning = (budgetBps: number) => {
      const { gives: known, ...rest } = gives(budgetBps);
      const share = streamShare(5, [], 'hdd');
      return { ...rest, gives: sampleGives(known.read.likely / share, { drive: 'hdd' as const }) };
    };
    const [finding] = evaluate(750e6, { speed: turning(750e6), edit: { declared: true } }).findings;
    expect(finding).toMatchObject({ severity: 'notice', subject: PROJECT, figures: { whenFull: 'yes' } });
    expect(finding?.message).toBe(
      'stripe: playing 5 angles of Tidewater Sessions at once needs 700 MB/s, which it gives now; when it is filled up to its reserve, its rotating drives give about 660 MB/s of what may be asked for (inner tracks are slower).',
    );
    expect(evaluate(750e6, { speed: turning(750e6) }).findings).toEqual([]);
    expect(evaluate(900e6, { speed: turning(900e6), edit: { declared: true } }).findings).toEqual([]);
    expect(evaluate(750e6, { edit: { declared: true } }).findings).toEqual([]);
  });

  test('of several groups the one that is worst; near the line nothing changes; without a budget nothing is said', () => {
    const light = sampleGroup({ angles: 2, cameras: ['A', 'B'], demandBps: 200e6, peakBps: 200e6 });
    const project = { ...NOTHING_MADE, sum: sampleSum(), multicam: [light, sampleGroup()] };
    const assessment = (budgetBps: number) =>
      sampleAssessment({ volumes: [volumeWith(gives(budgetBps))], projects: [project] });
    expect(speedOverrun.evaluate(assessment(600e6), THRESHOLDS).findings[0]?.figures['angles']).toBe(5);
    expect(speedOverrun.evaluate(assessment(750e6), THRESHOLDS).holds(PROJECT)).toBe('between-thresholds');
    expect(speedOverrun.evaluate(assessment(900e6), THRESHOLDS).holds(PROJECT)).toBeNull();
    const unknown = sampleAssessment({ volumes: [volumeWith({ gives: null, streams: 5 })], projects: [project] });
    expect(speedOverrun.evaluate(unknown, THRESHOLDS).findings).toEqual([]);
  });

  test('a shoot that is to come', () => {
    const plan = {
      ...{ project: 'Lock Keepers', days: ['2027-03-04', '2027-03-05'], cameras: 4, hours: 6 },
      ...{ format: 'DNxHR HQX', width: 3840, height: 2160, frameRate: { num: 25, den: 1 } },
    };
    const on = { volume: 'stripe', reserve: 0.3, layout: null, totalBytes: 4e12, roomBytes: 1e12, nights: [] };
    const answer = (budgetBps: number) => answerPlan(plan, { ...on, gives: sampleGives(budgetBps / 0.7) }, []);
    // Four of 91 MB/s, one more in a transition, a tenth for scrubbing: 492 MB/s.
    const [finding] = evaluate(400e6, { projects: [], plans: [answer(400e6)] }).findings;
    expect(finding).toMatchObject({ subject: 'stripe/Lock Keepers', severity: 'warning', figures: { angles: 4 } });
    expect(finding?.message).toBe(
      'stripe: Lock Keepers is to be shot with 4 cameras in DNxHR HQX 3840x2160 (2027-03-04 to 2027-03-05). Playing them at once needs 492 MB/s, 91.6 MB/s more than the 400 MB/s this volume may be asked for.',
    );
    expect(evaluate(400e6, { projects: [], plans: [answer(500e6)] }).holds('stripe/Lock Keepers')).toBe(
      'between-thresholds',
    );
    expect(evaluate(400e6, { projects: [], plans: [answer(900e6)] }).holds('stripe/Lock Keepers')).toBeNull();
    const single = { ...answer(4e6), plan: { ...plan, cameras: 1, days: ['2027-03-04'] } };
    expect(evaluate(400e6, { projects: [], plans: [single] }).findings).toEqual([]);
    expect(evaluate(400e6, { projects: [], plans: [{ ...answer(4e6), rate: null }] }).findings).toEqual([]);
  });
});
