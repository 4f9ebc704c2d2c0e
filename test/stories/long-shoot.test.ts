import { expect, test } from 'vitest';
import { noCopies } from '../../src/core/backup/project-copies.ts';
import { DOORS, GB, MINUTE, newWorld, raiseCurtain, type Stage, TB, take, type World } from './stage.ts';

/** Twelve days of shooting on a volume that takes eleven of them, in process, on a clock that we turn. */

const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;
const TAKES_A_DAY = 7;
/** An earlier project, of which all that is wanted lies elsewhere. */
const EARLIER = 'Saltmarsh';
const EARLIER_TAKES = 30;

function earlierProject({ root }: World): number {
  const all = Array.from({ length: EARLIER_TAKES }, (_, index) => {
    const { size, probe } = take('B', `${String(index % 24).padStart(2, '0')}:30:00:00`);
    root.putUnseen(`${EARLIER}/Footage/B${String(index).padStart(3, '0')}.mov`, { size, probe });
    return size;
  });
  return all.reduce((sum, size) => sum + size, 0);
}

/** Room falls with what is copied; 800 GB of 8 TB are kept free. */
class Volume {
  #free: number;
  readonly #world: World;
  readonly stage: Stage;
  /** When the reserve was touched. */
  overrunAt: number | null = null;

  constructor(world: World, stage: Stage, free = 6 * TB) {
    this.#world = world;
    this.stage = stage;
    this.#free = free;
  }

  use(bytes: number): void {
    this.#free -= bytes;
    this.#world.root.setSpace({ totalBytes: 8 * TB, freeBytes: this.#free, availableBytes: this.#free });
    if (this.#free < 0.8 * TB) this.overrunAt ??= this.#world.clock.now();
  }

  /** Cards come from eight in the morning on, one every hour. */
  async shootDay(day: number): Promise<void> {
    const { clock, root } = this.#world;
    for (let card = 0; card < TAKES_A_DAY; card++) {
      const { size, probe } = take('A', `${String(8 + card).padStart(2, '0')}:00:00:00`);
      root.put(`Lock Keepers/Day ${day}/A${String(card).padStart(3, '0')}.mov`, { size, probe });
      this.use(size);
      await clock.advance(HOUR);
    }
    await clock.advance(DAY - TAKES_A_DAY * HOUR);
  }
}

test('the overrun is told two days before it comes, once, and what is advised helps', {
  timeout: 120_000,
}, async () => {
  const world = newWorld({ totalBytes: 8 * TB, freeBytes: 6 * TB, availableBytes: 6 * TB });
  earlierProject(world);
  const stage = await raiseCurtain(world);
  const volume = new Volume(world, stage);
  let toldAt: number | null = null;
  for (let day = 1; day <= 12; day++) {
    await volume.shootDay(day);
    if (stage.announced.length > 0) toldAt ??= world.clock.now();
    // The earlier project is a day of ingest, too.
    if (day === 1) expect(stage.snapshot().volumes[0]?.capacity.overrun?.basis).toBe('not-enough-history');
    if (day === 6) {
      const overrun = stage.snapshot().volumes[0]?.capacity.overrun;
      expect(overrun).toMatchObject({ basis: 'early-estimate', shootDays: 7 });
      // 5.2 TB above the reserve at 462 GB a day are used up on the twelfth day; nobody has said that the shoot lasts as long.
      const daysTo = (time: string | null | undefined) => (Date.parse(time ?? '') - DOORS) / DAY;
      expect(daysTo(overrun?.at10)).toBeLessThan(11.3);
      expect(daysTo(overrun?.at50)).toBeGreaterThan(9);
      expect(daysTo(overrun?.at50)).toBeLessThan(25);
    }
  }
  expect(volume.overrunAt).not.toBeNull();
  expect(((volume.overrunAt ?? 0) - (toldAt ?? Number.POSITIVE_INFINITY)) / DAY).toBeGreaterThanOrEqual(2);
  expect(stage.announced.filter((one) => one === 'capacity-overrun first')).toHaveLength(1);
});

test('what is advised helps when it is taken', { timeout: 120_000 }, async () => {
  const world = newWorld({ totalBytes: 8 * TB, freeBytes: 2.3 * TB, availableBytes: 2.3 * TB });
  const earlierBytes = earlierProject(world);
  // All of it was copied to two shelves, and read back there the day before.
  const copied = { bytes: earlierBytes, oldestReadAt: DOORS - DAY, shelves: ['shelf-a', 'shelf-b'] };
  world.copies.push({
    ...noCopies({ volume: 'stripe', area: 'project', project: EARLIER }),
    fewest: 2,
    footage: copied,
  });
  // Eight days of shooting are past, as they were booked.
  const hour = Math.floor(DOORS / HOUR);
  const day = (ago: number) => ({ hour: hour - 24 * ago - 5, ingestBytes: 462 * GB, otherBytes: 0, deletedBytes: 0 });
  const mark = { at: DOORS, usedBytes: 5.7 * TB, footageBytes: earlierBytes };
  await world.ledger.putGrowth('stripe', mark, [8, 7, 6, 5, 4, 3, 2, 1].map(day));
  const stage = await raiseCurtain(world);
  const volume = new Volume(world, stage, 2.3 * TB);
  await volume.shootDay(9);
  const [advisory] = stage.snapshot().advisories;
  expect(advisory?.kind).toBe('capacity-overrun');
  expect(advisory?.message).toMatch(
    /^stripe will probably reach its reserve within three days \(chance \d+ %\) if nothing is deleted/,
  );
  const move = advisory?.remedies.find(({ action }) => action.startsWith(`Move project ${EARLIER}`));
  expect(move?.action).toMatch(
    /to another volume: all 1\.98 TB of it have 2 verified copies, on shelf-a and shelf-b, each read back on 2027-03-03 or later$/,
  );
  expect(move?.effect).toMatch(
    /^frees 1\.98 TB and leaves 3\.82 TB to write, about 4 shoot days more\. Look at those copies before anything is removed$/,
  );
  world.root.remove(EARLIER);
  volume.use(-earlierBytes);
  const before = stage.snapshot().volumes[0]?.capacity.overrun?.at50 ?? '';
  await world.clock.advance(2 * HOUR);
  expect(stage.snapshot().advisories).toEqual([]);
  expect(stage.announced).toEqual(['capacity-overrun first', 'capacity-overrun cleared']);
  // What was taken away is more room, and no growth that goes backwards.
  const overrun = stage.snapshot().volumes[0]?.capacity.overrun;
  expect(Date.parse(overrun?.at50 ?? '')).toBeGreaterThan(Date.parse(before) + 2 * DAY);
  // Nine days, of which one lies on both sides of the line between two days of 24 hours back from now.
  expect(overrun?.shootDays).toBe(10);
});
