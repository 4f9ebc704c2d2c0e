import { expect, test } from 'vitest';
import type { Assessment } from '../../../src/core/assess/assessment.ts';
import { newRun } from '../../../src/core/backup/backup-run.ts';
import { NO_BACKUPS } from '../../../src/core/backup/backup-view.ts';
import { watchEarly } from '../../../src/daemon/backup/early-watch.ts';
import { NOON, sampleArrival, sampleAssessment, sampleVolume } from '../../core/samples.ts';
import { fakeClock } from '../../fakes/clock.ts';

const MINUTE = 60_000;
const safety = (exposedBytes: number) => ({ exposedBytes, exposedClips: 1, exposedSeconds: 10, exposedSince: NOON });
const scene = (over: Partial<Assessment>, exposedBytes = 6e10, state: 'live' | 'hung' = 'live') =>
  sampleAssessment({ volumes: [sampleVolume({ safety: safety(exposedBytes), state })], ...over });

test('a volume is asked about every minute, by what is arriving there, what is exposed, and when a backup was begun', async () => {
  const clock = fakeClock(NOON);
  const begun: string[] = [];
  let now = scene({ arrivals: [sampleArrival()] });
  const stop = watchEarly({
    ...{ volumes: ['stripe'], assessment: () => now, clock },
    begin: (volume, cause) => void begun.push(`${(clock.now() - NOON) / MINUTE} ${volume} ${cause}`),
  });
  await clock.advance(30 * MINUTE);
  expect(begun).toEqual([]);
  now = scene({ arrivals: [sampleArrival({ volume: 'other' }), sampleArrival({ stage: 'refused' })] });
  await clock.advance(10 * MINUTE);
  expect(begun).toEqual(['40 stripe card-finished']);
  const run = newRun({ volume: 'stripe', shelf: 'shelf-a', cause: 'card-finished', startedAt: clock.now() });
  now = scene({ backups: { ...NO_BACKUPS, runs: [run] } });
  await clock.advance(60 * MINUTE);
  expect(begun).toHaveLength(1);
  // A volume that hangs tells nothing.
  now = scene({}, 9e10, 'hung');
  await clock.advance(60 * MINUTE);
  now = scene({ backups: { ...NO_BACKUPS, runs: [run] } }, 9e10);
  await clock.advance(11 * MINUTE);
  expect(begun).toHaveLength(2);
  stop();
  await clock.advance(24 * 60 * MINUTE);
  expect(begun).toHaveLength(2);
});
