import { arrayDegraded } from './array-degraded.ts';
import { arrivalRefused, arrivalStalled } from './arrivals.ts';
import { backupMissed } from './backup-missed.ts';
import { backupWindow } from './backup-window.ts';
import { backupFailed } from './backups.ts';
import { capacityOverrun } from './capacity-overrun.ts';
import { capacityReserve } from './capacity-reserve.ts';
import { cardIncomplete } from './card-incomplete.ts';
import { clipUndecoded } from './clip-undecoded.ts';
import { clockJump } from './clock-jump.ts';
import { copyDiffers } from './copy-differs.ts';
import { driveFailing } from './drive-failing.ts';
import { footageExposed } from './footage-exposed.ts';
import { footageTime } from './footage-time.ts';
import { layoutContradicted } from './layout-contradiction.ts';
import { listDiffers } from './list-differs.ts';
import { mixedRates } from './mixed-rates.ts';
import { planMissed } from './plan-missed.ts';
import { shelfReadOnly, volumeReadOnly } from './read-only.ts';
import type { Rule } from './rule.ts';
import { shelfAbsent } from './shelf-absent.ts';
import { shelfFilling } from './shelf-filling.ts';
import { singleShelf } from './single-shelf.ts';
import { speedOverrun } from './speed-overrun.ts';
import { stateDiskLow } from './state-disk.ts';
import { stateRefused } from './state-refused.ts';
import { takeDiffers } from './take-differs.ts';
import { takeIncomplete } from './take-incomplete.ts';
import { volumeAbsent } from './volume-absent.ts';
import { volumeBusy } from './volume-busy.ts';
import { volumeSlow } from './volume-slow.ts';
import { watchLimit } from './watch-limit.ts';

/**
 * All rules, what concerns a whole volume first: of the same severity they are shown in this order. A new one is one file
 * here, one entry in this list and one word in `AdvisoryKind`.
 */
export const RULES: readonly Rule[] = [
  stateRefused,
  stateDiskLow,
  volumeAbsent,
  arrayDegraded,
  driveFailing,
  copyDiffers,
  listDiffers,
  volumeReadOnly,
  shelfReadOnly,
  footageTime,
  capacityReserve,
  capacityOverrun,
  speedOverrun,
  volumeBusy,
  volumeSlow,
  backupFailed,
  shelfAbsent,
  backupMissed,
  footageExposed,
  backupWindow,
  shelfFilling,
  singleShelf,
  layoutContradicted,
  watchLimit,
  clockJump,
  planMissed,
  cardIncomplete,
  takeIncomplete,
  clipUndecoded,
  takeDiffers,
  mixedRates,
  arrivalStalled,
  arrivalRefused,
];
