import type { Instant } from '../model.ts';
import type { KnownLayout } from './detected-layout.ts';
import { expectedSpeed } from './expected-speed.ts';
import { isOfDrives, type SpeedSample } from './speed-sample.ts';
import { fillCost } from './volume-speed.ts';

/** What was measured of a volume, beside what one of its layout can be expected to give; bytes per second. */
export interface MeasuredSpeed {
  at: Instant;
  readBps: number;
  writeBps: number;
  expectedReadBps: number;
  expectedWriteBps: number;
}

/**
 * Of the newest sample that says what the drives can do: past every cache, and with nothing else going on. `null`: there is none, or
 * the layout is not known. `filled`: share of the room that is in use, for disks that turn are slower where they are full.
 */
export function measuredSpeed(
  samples: readonly SpeedSample[],
  layout: Pick<KnownLayout, 'speed'> | null,
  filled: number,
): MeasuredSpeed | null {
  const [newest] = samples
    .filter((sample) => sample.idle && isOfDrives(sample))
    .toSorted((one, other) => other.at - one.at);
  if (newest === undefined || layout === null) return null;
  const expected = expectedSpeed(layout.speed);
  const left = 1 - fillCost(layout.speed.drive, filled);
  const { at, readBps, writeBps } = newest;
  return {
    at,
    readBps,
    writeBps,
    expectedReadBps: expected.readBps * left,
    expectedWriteBps: expected.writeBps * left,
  };
}
