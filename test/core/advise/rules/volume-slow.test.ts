import { expect, test } from 'vitest';
import { volumeSlow } from '../../../../src/core/advise/rules/volume-slow.ts';
import type { VolumeAssessment } from '../../../../src/core/assess/assessment.ts';
import type { DetectedLayout } from '../../../../src/core/assess/detected-layout.ts';
import { NOON, sampleAssessment, sampleVolume } from '../../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const MEASURED = { at: NOON, readBps: 900e6, writeBps: 850e6, expectedReadBps: 2000e6, expectedWriteBps: 1700e6 };
const evaluate = (over: Partial<VolumeAssessment>) =>
  volumeSlow.evaluate(sampleAssessment({ volumes: [sampleVolume({ measured: MEASURED, ...over })] }), THRESHOLDS);
const share = (of: number) => ({ ...MEASURED, readBps: of * 2000e6, writeBps: 1700e6 });

test('what was measured is told beside what is expected of its layout', () => {
  const [finding] = evaluate({}).findings;
  expect(finding).toMatchObject({ subject: 'stripe', severity: 'notice', figures: MEASURED_FIGURES });
  expect(finding?.message).toBe(
    'stripe was measured on 2027-03-04 to read 900 MB/s and to write 850 MB/s. Of such a volume (level 0, 4 x nvme) about 2000 MB/s and 1700 MB/s can be expected. What it may be asked for goes by what was measured.',
  );
  expect(finding?.remedies.map(({ action }) => action)).toEqual([
    'Look at cable and port: what all drives hang on together is not seen here. Then run "headroomd measure stripe"',
  ]);
  expect(finding?.remedies[0]?.effect).toContain('up to 2000 MB/s instead of 900 MB/s');
});
const MEASURED_FIGURES = { readBps: 900e6, expectedReadBps: 2000e6, measuredAt: NOON };

test('what the file system and the array tell of why comes first', () => {
  const space = { totalBytes: 4e12, freeBytes: 2e11, availableBytes: 2e11 };
  const health = { state: 'degraded', missing: 1, action: null, done: null };
  const actions = evaluate({
    ...{ fileSystem: 'fuseblk', mountOptions: ['rw', 'sync', 'compress=zstd:3', 'relatime'] },
    capacity: { space, reserveBytes: 4e11, roomBytes: -2e11 },
    detected: { health } as DetectedLayout,
  }).findings[0]?.remedies.map(({ action }) => action);
  expect(actions).toEqual([
    'Wait until the array of stripe is whole again, then measure again',
    'Make room on stripe: 95 % of it is in use, and file systems get slow above 90 %',
    'Mount stripe without sync and compress=zstd:3',
    'Mount stripe with a driver of the kernel, or keep it on another file system: all goes through a program now (fuseblk)',
    expect.stringMatching(/^Look at cable and port/),
  ]);
});

test('below half it is told, from three fifths on it is over, either way', () => {
  expect(evaluate({ measured: share(0.49) }).findings).toHaveLength(1);
  expect(evaluate({ measured: share(0.5) }).holds('stripe')).toBe('between-thresholds');
  expect(evaluate({ measured: share(0.6) }).holds('stripe')).toBeNull();
  expect(evaluate({ measured: { ...share(1), writeBps: 0.49 * 1700e6 } }).findings).toHaveLength(1);
});

test('without a measurement nothing is claimed', () => {
  expect([evaluate({ measured: null }).findings, evaluate({ measured: null }).holds('stripe')]).toEqual([[], null]);
});
