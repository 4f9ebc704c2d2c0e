import type { VolumeAssessment } from '../assess/assessment.ts';
import { formatRate } from '../units.ts';

/** How far above the budget, or how near to it. */
export function beyond(need: number, budget: number): string {
  return need > budget
    ? `${formatRate(need - budget)} more than the ${formatRate(budget)} this volume may be asked for`
    : `close to the ${formatRate(budget)} this volume may be asked for`;
}

/** On what the budget rests, where that is not what was measured or said. */
export function basisWords({ speed: { basis } }: VolumeAssessment): string {
  return basis === 'layout' ? ' (expected of such drives, not measured)' : '';
}
