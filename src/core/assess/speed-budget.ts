import type { SpeedAssessment } from './assessment.ts';
import type { StreamDemand } from './stream-load.ts';

/** Speed of a volume as its owner stated it, bytes per second. */
export interface DeclaredSpeed {
  readBps: number;
  writeBps: number;
}

/**
 * Sets demand against budget. budget = declared speed x (1 - reserve): the reserve (0..1) is taken off once, here.
 * headroom = (budget - demand) / budget, negative in an overrun; further angles are counted in whole streams of the
 * largest one. Whatever is not known is `null`.
 */
export function assessSpeed(
  declared: DeclaredSpeed | null,
  reserve: number,
  demand: StreamDemand | null,
): SpeedAssessment {
  const readBudgetBps = declared === null ? null : declared.readBps * (1 - reserve);
  const writeBudgetBps = declared === null ? null : declared.writeBps * (1 - reserve);
  return {
    readBudgetBps,
    writeBudgetBps,
    basis: declared === null ? null : 'declared',
    reserveShare: reserve,
    demandBps: demand?.bps ?? null,
    demandFrom: demand?.from ?? null,
    headroom: headroomOf(readBudgetBps, demand),
    anglesLeft: anglesLeft(readBudgetBps, demand),
  };
}

function headroomOf(budgetBps: number | null, demand: StreamDemand | null): number | null {
  if (budgetBps === null || budgetBps <= 0 || demand === null) return null;
  return (budgetBps - demand.bps) / budgetBps;
}

function anglesLeft(budgetBps: number | null, demand: StreamDemand | null): number | null {
  if (budgetBps === null || demand === null || demand.largestBps <= 0) return null;
  return Math.max(0, Math.floor((budgetBps - demand.bps) / demand.largestBps));
}
