import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { restoreAdvice, storeAdvice } from '../../../src/core/advise/advice-store.ts';
import { type Advice, type AdviceState, advise, NO_ADVICE, raisedAdvisories } from '../../../src/core/advise/advise.ts';
import { isWorse } from '../../../src/core/advise/hysteresis.ts';
import type { Assessment } from '../../../src/core/assess/assessment.ts';
import { assessCapacity } from '../../../src/core/assess/capacity.ts';
import type { Arrival } from '../../../src/core/model.ts';
import { NOON, SECOND, sampleArrival, sampleAssessment, sampleVolume } from '../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const STALLED = sampleArrival({ stage: 'stalled', reason: 'incomplete' });
const GB = 1e9;

/** One volume of 4 TB, 400 GB of it kept free, with so much left and such a demand on its 420 MB/s. */
function scene(availableBytes: number, demandBps = 100e6, arrivals: Arrival[] = [], live = true): Assessment {
  const space = { totalBytes: 4000 * GB, freeBytes: availableBytes, availableBytes };
  const volume = sampleVolume({
    state: live ? 'live' : 'hung',
    capacity: assessCapacity(space, { bytes: 400 * GB }),
    speed: {
      ...sampleVolume().speed,
      demandBps,
      demandParts: { anglesBps: demandBps / 2.1, spreadBps: 0, transitionBps: 0, scrubBps: 0, ambientBps: 0 },
      streams: 1,
    },
  });
  return sampleAssessment({ volumes: [volume], arrivals });
}

/** Plays `[seconds, assessment]` and returns every announcement as "seconds event id". */
function play(scenes: readonly (readonly [number, Assessment])[], restartBefore = -1) {
  let state: AdviceState = NO_ADVICE;
  let advice: Advice | null = null;
  const said: string[] = [];
  scenes.forEach(([seconds, assessment], index) => {
    if (index === restartBefore) state = restoreAdvice(JSON.parse(JSON.stringify(storeAdvice(state)))).state;
    advice = advise(state, assessment, THRESHOLDS, NOON + seconds * SECOND);
    state = advice.state;
    for (const { event, advisory } of advice.announcements)
      said.push(`${seconds} ${event} ${advisory.id} ${advisory.severity}`);
  });
  return { said, state, advice: advice as Advice | null };
}

describe('from assessment to announcement', () => {
  test('a day of a filling volume', () => {
    const { said } = play([
      [0, scene(500 * GB)],
      [10, scene(390 * GB)],
      [29, scene(385 * GB)],
      [30, scene(380 * GB)],
      [40, scene(375 * GB)],
      [50, scene(70 * GB)],
      [60, scene(60 * GB)],
      [86_449, scene(60 * GB)],
      [86_450, scene(60 * GB)],
      [90_000, scene(600 * GB)],
      [90_059, scene(600 * GB)],
      [90_060, scene(600 * GB)],
      [90_070, scene(600 * GB)],
    ]);
    expect(said).toEqual([
      '30 first capacity-reserve:stripe warning',
      '50 worse capacity-reserve:stripe critical',
      '86450 reminder capacity-reserve:stripe critical',
      '90060 cleared capacity-reserve:stripe critical',
    ]);
  });

  test('what stands between its thresholds has the newest figures; what was not raised is not raised by them', () => {
    const between = scene(430 * GB);
    const { advice, said } = play([
      [0, scene(390 * GB)],
      [20, scene(390 * GB)],
      [40, between],
    ]);
    expect(said).toEqual(['20 first capacity-reserve:stripe warning']);
    expect(advice?.advisories).toMatchObject([{ severity: 'warning', figures: { availableBytes: 430 * GB } }]);
    expect(advice?.advisories[0]?.message).toContain('430 GB');
    expect(
      play([
        [0, between],
        [90, between],
      ]).advice,
    ).toMatchObject({ advisories: [], announcements: [] });
  });

  test('an advisory is since it was first seen, and its figures are the newest', () => {
    const { advice } = play([
      [0, scene(390 * GB)],
      [20, scene(385 * GB)],
      [30, scene(380 * GB)],
    ]);
    expect(advice?.advisories).toMatchObject([
      { id: 'capacity-reserve:stripe', since: NOON, severity: 'warning', figures: { availableBytes: 380 * GB } },
    ]);
    expect(advice?.decisions).toEqual([
      { id: 'capacity-reserve:stripe', step: 'still-holds', announce: 'told-already', hold: null },
    ]);
  });

  test('an arrival that stalled is told at once, and over when it is gone', () => {
    const { said, state } = play([
      [0, scene(900 * GB, 0, [STALLED])],
      [1, scene(900 * GB, 0, [{ ...STALLED, stage: 'settling' }])],
      [2, scene(900 * GB, 0, [STALLED])],
      [3, scene(900 * GB, 0, [])],
    ]);
    expect(said).toEqual([
      '0 first arrival-stalled:stripe/Tidewater Sessions/A002.mov warning',
      '3 cleared arrival-stalled:stripe/Tidewater Sessions/A002.mov warning',
    ]);
    expect(state.size).toBe(0);
  });

  test('a volume that stops answering is told; what was said of its figures neither clears nor changes', () => {
    const { said, advice } = play([
      [0, scene(390 * GB, 500e6)],
      [20, scene(390 * GB, 500e6)],
      [30, scene(900 * GB, 0, [], false)],
      [400, scene(900 * GB, 0, [], false)],
    ]);
    expect(said).toEqual([
      '20 first capacity-reserve:stripe warning',
      '20 first speed-overrun:stripe warning',
      '400 first volume-absent:stripe warning',
    ]);
    expect(advice?.advisories.map(({ id }) => id)).toEqual([
      'volume-absent:stripe',
      'capacity-reserve:stripe',
      'speed-overrun:stripe',
    ]);
    expect(advice?.decisions.map(({ hold }) => hold)).toEqual([null, 'root-not-live', 'root-not-live']);
  });

  test('a volume that is away shorter than the hold time is no news, and its return is told once', () => {
    const away = scene(900 * GB, 0, [], false);
    const back = scene(900 * GB, 0);
    expect(
      play([
        [0, away],
        [19, away],
        [20, back],
        [100, back],
      ]).said,
    ).toEqual([]);
    const { said, state } = play([
      [0, away],
      [20, away],
      [30, back],
      [89, back],
      [90, back],
      [100, back],
    ]);
    expect(said).toEqual(['20 first volume-absent:stripe warning', '90 cleared volume-absent:stripe warning']);
    expect(state.size).toBe(0);
  });

  test('the most severe comes first, then what concerns a whole volume', () => {
    const { advice } = play([
      [0, scene(900 * GB, 500e6, [STALLED])],
      [30, scene(60 * GB, 500e6, [STALLED])],
      [60, scene(60 * GB, 500e6, [STALLED])],
    ]);
    expect(advice?.advisories.map(({ severity, kind }) => `${severity} ${kind}`)).toEqual([
      'critical capacity-reserve',
      'warning speed-overrun',
      'warning arrival-stalled',
    ]);
    expect(raisedAdvisories(advice?.state ?? NO_ADVICE)).toEqual(advice?.advisories);
  });
});

const noise = fc.array(
  fc.record({
    pause: fc.integer({ min: 1, max: 40_000 }),
    availableBytes: fc.constantFrom(30, 70, 90, 300, 399, 401, 430, 450, 600).map((gb) => gb * GB),
    demandBps: fc.constantFrom(100e6, 379e6, 419e6, 421e6, 600e6),
    arrivals: fc.constantFrom<Arrival[]>(
      [],
      [STALLED],
      [{ ...STALLED, stage: 'probing' }],
      [{ ...STALLED, stage: 'refused' }],
    ),
    live: fc.constantFrom(true, true, true, false),
  }),
  { maxLength: 50 },
);

function scenesOf(
  steps: { pause: number; availableBytes: number; demandBps: number; arrivals: Arrival[]; live: boolean }[],
) {
  let at = 0;
  return steps.map(({ pause, availableBytes, demandBps, arrivals, live }) => {
    at += pause;
    return [at, scene(availableBytes, demandBps, arrivals, live)] as const;
  });
}

describe('for any course of things', () => {
  test('a restart at any point neither repeats nor forgets', () => {
    fc.assert(
      fc.property(noise, fc.nat(50), (steps, restartBefore) => {
        const scenes = scenesOf(steps);
        const through = play(scenes);
        const restarted = play(scenes, restartBefore);
        expect(restarted.said).toEqual(through.said);
        expect(restarted.advice?.advisories).toEqual(through.advice?.advisories);
      }),
    );
  });

  test('the same news is never told twice in a row, and only what was begun ends', () => {
    fc.assert(
      fc.property(noise, (steps) => {
        const last = new Map<string, { event: string; severity: 'none' | 'warning' | 'critical'; at: number }>();
        for (const line of play(scenesOf(steps)).said) {
          const [seconds, event = '', ...rest] = line.split(' ');
          const severity = rest.pop() as 'warning' | 'critical';
          const id = rest.join(' ');
          const before = last.get(id);
          if (event === 'first') expect(before?.event ?? 'cleared').toBe('cleared');
          else expect(before?.event ?? 'cleared').not.toBe('cleared');
          if (event === 'worse') expect(isWorse(severity, before?.severity ?? 'none')).toBe(true);
          if (event === 'reminder') expect(Number(seconds) - (before?.at ?? 0)).toBeGreaterThanOrEqual(86_400);
          last.set(id, { event, severity, at: Number(seconds) });
        }
      }),
    );
  });

  test('noise between the thresholds changes nothing', () => {
    const inBand = fc.record({
      availableBytes: fc.integer({ min: 401, max: 439 }).map((gb) => gb * GB),
      demandBps: fc.integer({ min: 379, max: 420 }).map((mega) => mega * 1e6),
      pause: fc.integer({ min: 1, max: 300 }),
    });
    fc.assert(
      fc.property(fc.array(inBand, { maxLength: 40 }), fc.boolean(), (steps, raisedBefore) => {
        const begin = raisedBefore ? scene(399 * GB, 421e6) : scene(900 * GB, 0);
        let at = 20;
        const band = steps.map(({ availableBytes, demandBps, pause }) => {
          at += pause;
          return [at, scene(availableBytes, demandBps)] as const;
        });
        const { said, advice } = play([[0, begin], [20, begin], ...band]);
        expect(said).toHaveLength(raisedBefore ? 2 : 0);
        expect(advice?.advisories).toHaveLength(raisedBefore ? 2 : 0);
      }),
    );
  });
});

describe('what was stored', () => {
  const stored = storeAdvice(play([[0, scene(390 * GB, 500e6, [STALLED])]]).state);

  test('comes back whole, the waiting as well as the raised', () => {
    expect(stored.map(({ id }) => id)).toEqual([
      'capacity-reserve:stripe',
      'speed-overrun:stripe',
      'arrival-stalled:stripe/Tidewater Sessions/A002.mov',
    ]);
    const { state, dropped } = restoreAdvice(stored);
    expect(dropped).toEqual([]);
    expect(storeAdvice(state)).toEqual(stored);
  });

  test('comes back in the middle of a fall', () => {
    const falling = storeAdvice(
      play([
        [0, scene(390 * GB)],
        [20, scene(390 * GB)],
        [30, scene(900 * GB)],
      ]).state,
    );
    expect(falling[0]?.json).toContain('"falling":{"to":"none"');
    expect(restoreAdvice(falling).dropped).toEqual([]);
  });

  test('is dropped when no rule knows its kind any more', () => {
    const [row] = stored.slice(2).map(({ id, json }) => ({
      id: id.replace('arrival-stalled', 'arrival-lost'),
      json: json.replaceAll('arrival-stalled', 'arrival-lost'),
    }));
    expect(restoreAdvice(row === undefined ? [] : [row]).dropped).toEqual([
      'arrival-lost:stripe/Tidewater Sessions/A002.mov',
    ]);
  });

  test.each([
    ['no JSON', (json: string) => json.slice(1)],
    ['no object', () => '7'],
    ['the id of another', (json: string) => json.replace('"subject":"stripe/', '"subject":"other/')],
    ['no phase', (json: string) => json.replace('"phase":"raised"', '"phase":"clear"')],
    ['no time', (json: string) => json.replace(/"since":\d+/, '"since":null')],
    ['no severity', (json: string) => json.replaceAll('"warning"', '"grave"')],
    ['half a fall', (json: string) => json.replace('"falling":null', '"falling":{"to":"none"}')],
    ['half an announcement', (json: string) => json.replace(/"event":"first",/, '')],
    ['no message', (json: string) => json.replace(/"message":"[^"]*"/, '"message":null')],
  ])('is dropped with its id when it has %s', (_, damage) => {
    const row = stored[2] ?? { id: '', json: '' };
    const damaged = damage(row.json);
    expect(damaged).not.toBe(row.json);
    expect(restoreAdvice([...stored.slice(0, 2), { id: row.id, json: damaged }])).toMatchObject({
      dropped: [row.id],
      state: new Map(restoreAdvice(stored.slice(0, 2)).state),
    });
  });
});
