import { describe, expect, test } from 'vitest';
import {
  foldBy,
  foldMoments,
  HOUR_MS,
  MINUTE_MS,
  momentOf,
  thinned,
  type VolumeMoment,
} from '../../../src/core/assess/moments.ts';
import { sampleAssessment, sampleVolume } from '../samples.ts';

const START = 1_804_132_800_000;

function moment(at: number, over: Partial<VolumeMoment> = {}): VolumeMoment {
  return {
    ...{ at, needBps: null, needFor: null, budgetBps: null, givenBps: null, peakBps: null },
    ...{ usedBytes: null, roomEndBytes: null, exposedBytes: null, verifiedAt: null, ...over },
  };
}

describe('how a volume stands now', () => {
  test('is told in bytes, with what had to be read and what the drives gave', () => {
    const load = { share: 0.2, isHigh: false, readBps: 3e8, writeBps: 1e8, ownReadBps: 0 };
    const volume = sampleVolume({ load });
    const assessment = sampleAssessment({ volumes: [volume] });
    const { capacity, speed } = volume;
    const used = (capacity?.space.totalBytes ?? 0) - (capacity?.space.freeBytes ?? 0);
    expect(momentOf(volume, assessment)).toEqual({
      at: assessment.at,
      ...{ needBps: speed.demandBps, needFor: speed.demandFrom, budgetBps: speed.readBudgetBps },
      ...{ givenBps: 4e8, peakBps: 4e8, usedBytes: used, roomEndBytes: used + (capacity?.roomBytes ?? 0) },
      ...{ exposedBytes: volume.safety?.exposedBytes, verifiedAt: null },
    });
  });

  test('what is not known stays so', () => {
    const volume = sampleVolume({ capacity: null, safety: null, load: null });
    expect(momentOf(volume, sampleAssessment({ volumes: [volume] }))).toMatchObject({
      ...{ givenBps: null, usedBytes: null, roomEndBytes: null, exposedBytes: null },
    });
  });
});

describe('several moments as one', () => {
  test('keep the heaviest need by its name, the least budget, the middle and the peak of what was given, the last of the rest', () => {
    const folded = foldMoments(
      [
        moment(START, { needBps: 4e8, needFor: 'concert', budgetBps: 1e9, givenBps: 1e8, peakBps: 3e8, usedBytes: 1 }),
        moment(START + 1, {
          needBps: 2e8,
          needFor: 'one clip',
          budgetBps: 9e8,
          givenBps: 3e8,
          peakBps: 3e8,
          usedBytes: 5,
        }),
        moment(START + 2, { exposedBytes: 7, verifiedAt: START }),
      ],
      START - 5,
    );
    expect(folded).toEqual({
      ...{ at: START - 5, needBps: 4e8, needFor: 'concert', budgetBps: 9e8, givenBps: 2e8, peakBps: 3e8 },
      ...{ usedBytes: 5, roomEndBytes: null, exposedBytes: 7, verifiedAt: START },
    });
    expect(foldMoments([], START)).toBeNull();
  });

  test('by stretches, which need not all have any', () => {
    const some = [moment(START), moment(START + MINUTE_MS), moment(START + 3 * HOUR_MS)];
    expect(foldBy(some, HOUR_MS).map(({ at }) => at)).toEqual([START, START + 3 * HOUR_MS]);
  });
});

describe('what is plotted', () => {
  const day = Array.from({ length: 1440 }, (_, minute) =>
    moment(START + minute * MINUTE_MS, { givenBps: 1, peakBps: minute === 777 ? 9e8 : 1 }),
  );

  test('is thinned, and what was highest stays to be seen', () => {
    const { stepMs, moments } = thinned(day, { fromMs: START, toMs: START + 24 * HOUR_MS, limit: 360 });
    expect(stepMs).toBe(4 * MINUTE_MS);
    expect(moments).toHaveLength(360);
    expect(moments.filter(({ peakBps }) => peakBps === 9e8).map(({ at }) => at)).toEqual([START + 776 * MINUTE_MS]);
  });

  test('of few all are shown, and none from before', () => {
    const shown = thinned(day, { fromMs: START + 10 * MINUTE_MS, toMs: START + 20 * MINUTE_MS, limit: 360 });
    expect(shown.moments.map(({ at }) => at)).toEqual(day.slice(10, 21).map(({ at }) => at));
  });

  test('is never more than the limit, whatever the stretch begins with', () => {
    for (let shift = 0; shift < 10; shift++) {
      const fromMs = START + shift * 30_000;
      expect(thinned(day, { fromMs, toMs: fromMs + 24 * HOUR_MS, limit: 100 }).moments.length).toBeLessThanOrEqual(100);
    }
  });
});
