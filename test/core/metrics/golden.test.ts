import { expect, test } from 'vitest';
import { metricsAnswer } from '../../../src/core/metrics/metrics.ts';
import { snapshotOf } from '../present/hostile.ts';
import { metricsSource } from './exposed.ts';

/**
 * The whole page of metrics as it is told, name by name: what collectors have built on is not changed by accident. What is meant to
 * change is written anew with `vitest -u`, and read in the difference.
 */
test.each([
  ['openmetrics', 'application/openmetrics-text'],
  ['text', undefined],
] as const)('what is told is what was told before: %s', async (format, accept) => {
  const names = ['stripe', 'Tidewater Sessions', 'media/stripe', 'too old', 'A', 'http://127.0.0.1:4717/'];
  const loop = { loop: 'intake', of: 'stripe', waiting: 3, isOutside: false, movedAt: 1.8e9, patienceSeconds: 300 };
  const source = metricsSource({
    snapshot: snapshotOf({
      ...{ names, size: 4e12, volumes: 1, advisories: 2, snoozed: 1, arrivals: 3, projects: 1, cards: 1 },
    }),
    loops: [{ ...loop, standsStill: false }],
    successes: [{ volume: 'stripe', shelf: 'shelf-a', at: 1_804_132_800_000 }],
  });
  await expect(metricsAnswer(source, accept).body).toMatchFileSnapshot(`../../fixtures/metrics/${format}.txt`);
});
