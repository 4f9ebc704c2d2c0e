import { type DriveSign, type SmartReport, smartSigns } from '../../../src/core/assess/drive-signs.ts';
import type { Dice } from './dice.ts';
import { DAY, HOUR, type Trouble } from './kinds.ts';
import { agenda, type Part } from './part.ts';

const DRIVES = ['sda', 'sdb', 'sdc', 'sdd'];
/** A year, several times as many as usual, so that there is something to count. */
const DIE = 0.1;
/** Of those that die, with signs before: about half (from memory, of published studies of many drives). */
const SHOW_SIGNS = 0.55;
/** Replace some sectors, and live on. */
const LIVE_ON = 0.02;
/** Say of themselves that they fail, the day before. */
const SAY_SO = 0.3;

/** Drives that die, some with signs before it. The plain threshold is what a drive says of itself as a whole. */
export function drivePart(days: number, dice: Dice): Part {
  const changes = agenda();
  const deaths: Trouble[] = [];
  const signs = new Map<string, DriveSign[]>();
  const report = (drive: string, at: number, told: SmartReport) =>
    changes.add({
      at,
      run(naive) {
        signs.set(
          drive,
          smartSigns(told).map((sign) => ({ ...sign, drive, model: null, serial: null })),
        );
        naive.tell('drive-failing', `stripe/${drive}`, told.smart_status?.passed === false, at);
      },
    });
  const sectors = (count: number, pending: number) => ({
    ata_smart_attributes: {
      table: [
        { id: 5, raw: { value: count } },
        { id: 197, raw: { value: pending } },
      ],
    },
  });
  for (const drive of DRIVES) {
    for (let day = 60; day < days - 100; day += 100) {
      if (dice.happens((DIE * 100) / 365)) {
        const at = day * DAY + dice.between(0, 23) * HOUR;
        deaths.push({ subject: `stripe/${drive}`, at, until: at });
        if (dice.happens(SHOW_SIGNS)) report(drive, at - dice.between(1, 50) * DAY, sectors(24, 4));
        if (dice.happens(SAY_SO)) report(drive, at - DAY, { smart_status: { passed: false } });
        report(drive, at + 2 * DAY, {});
      } else if (dice.happens((LIVE_ON * 100) / 365)) {
        report(drive, day * DAY, sectors(8, 0));
        report(drive, (day + 95) * DAY, {});
      }
    }
  }
  return {
    step: (now, naive) => changes.run(now, naive),
    show(scene) {
      scene.volume.signs = [...signs.values()].flat();
    },
    next: changes.next,
    troubles: { 'drive-failing': deaths },
  };
}
