import { type PlanAnswer, verdictAt } from '../assess/plan-answer.ts';
import { display } from './escape.ts';

/** The contract of `plan --json`. Bytes, bytes per second; chances are 0..1; what is not known is `null`. */
export interface PlanSnapshot {
  volume: string;
  project: string;
  days: readonly string[];
  cameras: number;
  format: string;
  width: number;
  height: number;
  frameRate: { num: number; den: number };
  /** Recorded by each camera on each day. */
  hours: number;
  /** One camera, and how that is known. */
  rateBps: number | null;
  rateFrom: NonNullable<PlanAnswer['rate']>['from'] | null;
  rateSource: string | null;
  rateClips: number;
  bytesPerCameraHour: number | null;
  bytesPerDay: number | null;
  bytesTotal: number | null;
  roomBytes: number | null;
  fits: boolean | null;
  fullOn: string | null;
  /** That it fits with all that comes besides as it did lately, 0..1. */
  chanceFits: number | null;
  demandBps: number | null;
  budgetBps: number | null;
  budgetLowBps: number | null;
  budgetHighBps: number | null;
  basis: PlanAnswer['basis'];
  anglesLeft: number | null;
  backupSeconds: number | null;
  windowFits: boolean | null;
  layouts: {
    level: string;
    members: number;
    isNow: boolean;
    survives: number;
    usableBytes: number;
    /** Room for this shoot beside the present level. */
    moreBytes: number;
    readBudgetBps: number;
    writeBudgetBps: number;
    fits: boolean | null;
    plays: boolean | null;
    lossYear: number;
    lossNight: number;
  }[];
  /** Projects that are planned for as well. */
  others: string[];
}

/** One answer, ready for JSON. */
export function planJson(
  answer: PlanAnswer,
  others: readonly string[],
  chanceFits: number | null = null,
): PlanSnapshot {
  const { plan, rate } = answer;
  const { days, cameras, width, height, frameRate, hours } = plan;
  return {
    volume: display(answer.volume),
    project: display(plan.project),
    ...{ days, cameras, format: display(plan.format), width, height, frameRate, hours },
    rateBps: whole(rate?.bps ?? null),
    rateFrom: rate?.from ?? null,
    rateSource: rate?.source ?? null,
    rateClips: rate?.clips ?? 0,
    bytesPerCameraHour: whole(answer.bytesPerCameraHour),
    bytesPerDay: whole(answer.bytesPerDay),
    bytesTotal: whole(answer.bytesTotal),
    roomBytes: whole(answer.roomBytes),
    ...{ fits: answer.fits, fullOn: answer.fullOn, chanceFits },
    demandBps: whole(answer.demandBps),
    budgetBps: whole(answer.budgetBps),
    budgetLowBps: whole(answer.budgetLowBps),
    budgetHighBps: whole(answer.budgetHighBps),
    ...{ basis: answer.basis, anglesLeft: answer.anglesLeft },
    ...{ backupSeconds: answer.backupSeconds, windowFits: answer.windowFits },
    layouts: answer.layouts.map((choice) => {
      const { level, members, isNow, survives, lossYear, lossNight } = choice;
      const { fits, plays, moreBytes } = verdictAt(answer, choice);
      return {
        ...{ level, members, isNow, survives, fits, plays, lossYear, lossNight },
        moreBytes: Math.round(moreBytes),
        usableBytes: Math.round(choice.usableBytes),
        readBudgetBps: Math.round(choice.readBudgetBps),
        writeBudgetBps: Math.round(choice.writeBudgetBps),
      };
    }),
    others: others.map(display),
  };
}

function whole(value: number | null): number | null {
  return value === null ? null : Math.round(value);
}
