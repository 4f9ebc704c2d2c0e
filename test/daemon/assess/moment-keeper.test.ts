import { expect, test } from 'vitest';
import { HOUR_MS, MINUTE_MS, MINUTES_KEPT_MS } from '../../../src/core/assess/moments.ts';
import { createMomentKeeper } from '../../../src/daemon/assess/moment-keeper.ts';
import { sampleAssessment, sampleVolume } from '../../core/samples.ts';
import { fakeLedger } from '../../fakes/ledger.ts';

const START = 1_804_132_800_000;

function stand(at: number, readBps: number) {
  const load = { share: 0.2, isHigh: false, readBps, writeBps: 0, ownReadBps: 0 };
  return sampleAssessment({ at, volumes: [sampleVolume({ load })] });
}

test('keeps a row for each minute in which there was a look, and makes an hour of them when it is over', async () => {
  const ledger = fakeLedger();
  const keeper = createMomentKeeper(ledger, (error) => expect.fail(String(error)));
  for (let seconds = 0; seconds <= 7_260; seconds += 30) keeper.note(stand(START + seconds * 1000, seconds));
  await keeper.flush();
  const minutes = await ledger.moments('stripe', 'minute', 0);
  expect(minutes).toHaveLength(122);
  expect(minutes[1]).toMatchObject({ at: START + MINUTE_MS, givenBps: 75, peakBps: 90 });
  const hours = await ledger.moments('stripe', 'hour', 0);
  expect(hours.map(({ at }) => at)).toEqual([START, START + HOUR_MS]);
  expect(hours[0]).toMatchObject({ givenBps: Math.round((59 * 60 + 30) / 2), peakBps: 3570 });
});

test('an hour that the last daemon did not finish is made by the next, and old minutes go', async () => {
  const ledger = fakeLedger();
  const first = createMomentKeeper(ledger, () => {});
  first.note(stand(START, 1));
  first.note(stand(START + MINUTE_MS, 3));
  await first.flush();
  const later = START + MINUTES_KEPT_MS - HOUR_MS;
  const second = createMomentKeeper(ledger, () => {});
  second.note(stand(later, 5));
  await second.flush();
  expect((await ledger.moments('stripe', 'hour', 0)).map(({ at, givenBps }) => [at, givenBps])).toEqual([[START, 2]]);
  expect(await ledger.moments('stripe', 'minute', 0)).toHaveLength(3);
  const third = createMomentKeeper(ledger, () => {});
  third.note(stand(later + 3 * HOUR_MS, 5));
  await third.flush();
  expect((await ledger.moments('stripe', 'minute', 0)).map(({ at }) => at)).toEqual([later, later + 3 * HOUR_MS]);
});

test('a store that refuses costs a gap, and is told', async () => {
  const ledger = fakeLedger();
  const told: unknown[] = [];
  const full = { ...ledger, putMoments: () => Promise.reject(new Error('the disk is full')) };
  const keeper = createMomentKeeper(full, (error) => told.push(error));
  keeper.note(stand(START, 1));
  keeper.note(stand(START + MINUTE_MS, 1));
  await keeper.flush();
  expect(told.map(String)).toEqual(['Error: the disk is full', 'Error: the disk is full']);
});
