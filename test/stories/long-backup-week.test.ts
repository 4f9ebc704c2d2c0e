import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, describe, expect, test } from 'vitest';
import { whyNoShelf } from '../rim/backup/shelves.ts';
import { backupDays } from './backup-days.ts';

const ZONE = 'Europe/Rome';
const STEP = 5 * 60_000;
const BYTES = 1_000_000;
const why = whyNoShelf('ext4');
if (why !== null) console.warn(`NOT CHECKED: a week of backups: ${why}`);

const at = (day: number, time: string) =>
  Temporal.PlainDateTime.from(`2027-03-${day}T${time}`).toZonedDateTime(ZONE).epochMilliseconds;
const shown = (instant: number) => {
  const time = Temporal.Instant.fromEpochMilliseconds(instant).toZonedDateTimeISO(ZONE);
  return `${time.day} ${time.toPlainTime().toString({ smallestUnit: 'minute' })}`;
};

// Summer time begins on 28 March 2027 at 02:00 (Directive 2000/84/EC). Each evening at nine a recording of 1 MB comes, and two verified copies are
// wanted. A run takes no time here.
describe.skipIf(why !== null)('a week of Lock Keepers, on real shelves', () => {
  let days: Awaited<ReturnType<typeof backupDays>> | null = null;
  afterEach(() => days?.clear());

  test('each night has one run, whatever came between; exposure is as reckoned by hand', {
    timeout: 300_000,
  }, async () => {
    days = await backupDays(at(21, '12:00'), '0 4 * * *', ZONE);
    const mine = days;
    await mine.start();
    const isAsleep = (now: number) => now >= at(25, '23:00') && now < at(26, '08:30');
    for (let now = at(21, '12:00') + STEP; now <= at(29, '12:00'); now += STEP) {
      const time = shown(now);
      if (time === '23 03:00') mine.kill();
      if (time === '23 20:00') mine.carry('shelf-b', 'away');
      if (time === '25 20:00') mine.carry('shelf-b', 'home');
      // A machine that is suspended lets nothing happen; killed, nobody is there.
      if (isAsleep(now)) continue;
      if (time.endsWith(' 21:00')) await mine.shoot(`Lock Keepers/Footage/A${time.slice(0, 2)}.mov`, BYTES);
      await mine.to(now);
      if (time === '23 07:00') await mine.start();
    }
    const told = mine.runs.map(({ startedAt, shelf, cause, tbHours }) => [
      ...[shown(startedAt), cause, shelf],
      Number(((tbHours * 1e12) / BYTES).toFixed(3)),
    ]);
    // Hours that one recording was exposed when the run was begun; two of them count both.
    const quiet = 0.167;
    expect(told).toEqual([
      ['21 21:10', 'card-finished', 'shelf-a', quiet],
      ['21 21:10', 'card-finished', 'shelf-b', quiet],
      ['22 04:00', 'nightly', 'shelf-a', 0],
      ['22 04:00', 'nightly', 'shelf-b', 0],
      ['22 21:10', 'card-finished', 'shelf-a', quiet],
      ['22 21:10', 'card-finished', 'shelf-b', quiet],
      // Nobody was there from three to seven.
      ['23 07:00', 'catch-up', 'shelf-a', 0],
      ['23 07:00', 'catch-up', 'shelf-b', 0],
      // The other shelf is at home: what is on one alone stays exposed.
      ['23 21:10', 'card-finished', 'shelf-a', quiet],
      ['24 04:00', 'nightly', 'shelf-a', 7],
      ['24 21:10', 'card-finished', 'shelf-a', 24.333],
      ['25 04:00', 'nightly', 'shelf-a', 38],
      // It returns: 47 h and 23 h.
      ['25 20:00', 'catch-up', 'shelf-b', 70],
      ['25 21:10', 'card-finished', 'shelf-a', quiet],
      ['25 21:10', 'card-finished', 'shelf-b', quiet],
      // The workstation slept from eleven to half past eight.
      ['26 08:30', 'catch-up', 'shelf-a', 0],
      ['26 08:30', 'catch-up', 'shelf-b', 0],
      ['26 21:10', 'card-finished', 'shelf-a', quiet],
      ['26 21:10', 'card-finished', 'shelf-b', quiet],
      ['27 04:00', 'nightly', 'shelf-a', 0],
      ['27 04:00', 'nightly', 'shelf-b', 0],
      ['27 21:10', 'card-finished', 'shelf-a', quiet],
      ['27 21:10', 'card-finished', 'shelf-b', quiet],
      ['28 04:00', 'nightly', 'shelf-a', 0],
      ['28 04:00', 'nightly', 'shelf-b', 0],
      ['28 21:10', 'card-finished', 'shelf-a', quiet],
      ['28 21:10', 'card-finished', 'shelf-b', quiet],
      ['29 04:00', 'nightly', 'shelf-a', 0],
      ['29 04:00', 'nightly', 'shelf-b', 0],
    ]);
    expect(mine.view()?.runs.map(({ stage, failures }) => [stage, failures])).toEqual([
      ['done', 0],
      ['done', 0],
    ]);
    const recordings = ['A21', 'A22', 'A23', 'A24', 'A25', 'A26', 'A27', 'A28'].map((name) => `${name}.mov`);
    for (const shelf of ['shelf-a', 'shelf-b']) {
      expect(readdirSync(join(mine.onShelf(shelf), 'stripe/Lock Keepers/Footage')).toSorted()).toEqual(recordings);
    }
    expect(mine.view()?.sums.map(({ files, verifiedFiles }) => [files, verifiedFiles])).toEqual([
      [8, 8],
      [8, 8],
    ]);
  });
});
