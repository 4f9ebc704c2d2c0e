import { describe, expect, test } from 'vitest';
import { footageTime } from '../../../../src/core/advise/rules/footage-time.ts';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import { NOTHING_MADE, sampleAssessment, sampleSum, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const SPACE = { totalBytes: 4e12, freeBytes: 1.2e12, availableBytes: 1.2e12 };

/** Four cameras of 110 MB/s, and so many bytes above a reserve of 400 GB. */
function evaluate(roomBytes: number, over: Partial<VolumeAssessment> = {}) {
  const bps = 440e6;
  const volume = sampleVolume({
    capacity: { space: { ...SPACE, availableBytes: roomBytes + 4e11 }, reserveBytes: 4e11, roomBytes },
    footageLeft: {
      ...{ cameras: 4, bps, reserveSeconds: Math.max(0, roomBytes) / bps },
      fullSeconds: Math.max(0, roomBytes + 4e11) / bps,
    },
    session: { seconds: 7_200, basis: 'plan' },
    ...over,
  });
  const projects = [{ ...NOTHING_MADE, sum: sampleSum(), multicam: [] }];
  return footageTime.evaluate(sampleAssessment({ volumes: [volume], projects }), THRESHOLDS);
}

describe('recording time below a working session', () => {
  // 800 GB at 4 x 110 MB/s are 1818 s = 30 min 18 s, 1.2 TB 45 min 27 s: by hand.
  test('is told in time, with cameras and rate, and what would make room', () => {
    const [finding] = evaluate(8e11).findings;
    expect(finding).toMatchObject({ subject: 'stripe', severity: 'warning', figures: { sessionSeconds: 7_200 } });
    expect(finding?.message).toBe(
      'stripe has room for 30 min 18 s of recording before its reserve is touched, and for 45 min 27 s before it is full (4 cameras at 440 MB/s in all). A day of the shoot plan records 2 h 00 min.',
    );
    // 7200 s at 440 MB/s are 3.17 TB, less 800 GB: 2.37 TB; the caches of the sample are 100 GB.
    expect(finding?.remedies[0]?.effect).toContain('2.27 TB are still missing');
    expect(finding?.remedies.at(-1)).toEqual({
      action: 'Copy the next cards to another volume',
      effect: 'each hour of recording takes 1.58 TB',
    });
  });

  test.each([
    ['configured', 'A working session is set to 2 h 00 min.'],
    ['shoot-days', 'A usual day of this shoot records 2 h 00 min.'],
    ['least', 'Less than 2 h 00 min is told in any case.'],
  ] as const)('says on what the session rests: %s', (basis, words) => {
    expect(evaluate(8e11, { session: { seconds: 7_200, basis } }).findings[0]?.message).toContain(words);
  });

  test('is over with a quarter of a session more, and stands between', () => {
    expect(evaluate(7_100 * 440e6).findings).toHaveLength(1);
    const between = evaluate(7_300 * 440e6);
    expect([between.findings, between.holds('stripe')]).toEqual([[], 'between-thresholds']);
    expect(evaluate(9_100 * 440e6).holds('stripe')).toBeNull();
  });

  test('below the reserve, which is told by itself, nothing new is; with less than half an hour it is critical', () => {
    const touched = evaluate(-1e9, {
      footageLeft: { cameras: 4, bps: 100e6, reserveSeconds: 0, fullSeconds: 3_990 },
    });
    expect([touched.findings, touched.standing?.length]).toEqual([[], 1]);
    expect(touched.standing?.[0]?.message).toContain(
      'has room for 1 h 07 min of recording before it is full, and its reserve is in use already (',
    );
    expect(evaluate(-1e9).findings[0]?.severity).toBe('critical');
  });

  test('is no matter while no shoot goes on, and unknown while nothing tells the rate', () => {
    expect(evaluate(8e11, { session: null }).holds('stripe')).toBeNull();
    expect(evaluate(8e11, { footageLeft: null }).holds('stripe')).toBe('figure-unknown');
    expect(evaluate(8e11, { state: 'hung' }).holds('stripe')).toBe('root-not-live');
  });
});
