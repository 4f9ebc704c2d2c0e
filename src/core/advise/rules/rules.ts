import { arrivalRefused, arrivalStalled } from './arrivals.ts';
import { capacityReserve } from './capacity-reserve.ts';
import type { Rule } from './rule.ts';
import { speedOverrun } from './speed-overrun.ts';

/** All rules. A new one is one file here, one entry in this list and one word in `AdvisoryKind`. */
export const RULES: readonly Rule[] = [capacityReserve, speedOverrun, arrivalStalled, arrivalRefused];
