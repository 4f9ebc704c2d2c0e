import { expect, test } from 'vitest';
import type { SpeedSample } from '../../../src/core/assess/speed-sample.ts';
import { createSampleView } from '../../../src/daemon/assess/sample-view.ts';
import { fakeLedger } from '../../fakes/ledger.ts';

const SAMPLE: SpeedSample = {
  ...{ volume: 'stripe', at: 1, method: 'direct', readBps: 1e9, writeBps: 1e9, streams: [] },
  ...{ bytes: 8e9, requestBytes: 1_048_576, idle: true },
};

test('what was measured is kept, and counts while the volume is put together as it was then', async () => {
  const ledger = fakeLedger();
  let build = 'four';
  const view = createSampleView(ledger, () => build);
  await view.start();
  expect(view.of('stripe')).toEqual([]);
  await view.add(SAMPLE);
  expect(view.of('stripe')).toEqual([SAMPLE]);
  expect(view.of('another')).toEqual([]);

  const next = createSampleView(ledger, () => build);
  await next.start();
  expect(next.of('stripe')).toEqual([SAMPLE]);
  build = 'five';
  expect(next.of('stripe')).toEqual([]);
});
