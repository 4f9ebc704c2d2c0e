import type { NightAhead } from '../backup/backup-view.ts';
import type { FormatSum } from '../store-ports.ts';
import type { ArrayLevel } from './array-level.ts';
import type { SpeedLayout } from './expected-speed.ts';
import { type LevelChoice, levelChoices } from './level-choices.ts';
import {
  bytesPerDay,
  type CameraRate,
  cameraRate,
  dayOfOverrun,
  plannedPlayback,
  type ShootPlan,
} from './shoot-plan.ts';
import { assessSpeed } from './speed-budget.ts';
import type { VolumeGives } from './volume-speed.ts';

/** The volume that a plan is asked of. */
export interface PlannedOn {
  volume: string;
  gives: VolumeGives | null;
  reserve: number;
  /** Declared or detected. */
  layout: SpeedLayout | null;
  totalBytes: number | null;
  /** What can be written before its reserve is touched. */
  roomBytes: number | null;
  /** The nights of its backups, where it is known how fast they go. */
  nights: readonly Pick<NightAhead, 'shelves' | 'nightBytes' | 'windowSeconds'>[];
}

/** Does the shoot that is to come fit, play, and get backed up? `null`: not known. */
export interface PlanAnswer {
  plan: ShootPlan;
  volume: string;
  rate: CameraRate | null;
  bytesPerCameraHour: number | null;
  bytesPerDay: number | null;
  bytesTotal: number | null;
  roomBytes: number | null;
  fits: boolean | null;
  /** The day of the plan on which the room is used up; `null`: none, or not known. */
  fullOn: string | null;
  demandBps: number | null;
  budgetBps: number | null;
  /** Four in five volumes of which the same is known may be asked for something between. */
  budgetLowBps: number | null;
  budgetHighBps: number | null;
  basis: VolumeGives['read']['basis'] | null;
  /** Further angles that would play beside those planned. */
  anglesLeft: number | null;
  /** To copy a day of it to all shelves that are there, and to read it back; of several backups the longest. `null`: it is not known how fast they go. */
  backupSeconds: number | null;
  windowFits: boolean | null;
  /** The same members at every level; empty where the layout is not known. */
  layouts: LevelChoice[];
}

/** Answers for one plan on one volume. `formats`: what lies in the user's projects. */
export function answerPlan(
  plan: ShootPlan,
  on: PlannedOn,
  formats: readonly { project: string | null; formats: readonly FormatSum[] }[],
): PlanAnswer {
  const rate = cameraRate(plan, formats);
  const daily = rate === null ? null : bytesPerDay(plan, rate);
  const bytesTotal = daily === null ? null : daily * plan.days.length;
  const demand = rate === null ? null : { playback: plannedPlayback(plan, rate), from: '' };
  const speed = assessSpeed(on.gives, on.reserve, demand, null);
  const fits = bytesTotal === null || on.roomBytes === null ? null : bytesTotal <= on.roomBytes;
  return {
    plan,
    volume: on.volume,
    rate,
    bytesPerCameraHour: rate === null ? null : rate.bps * 3600,
    bytesPerDay: daily,
    bytesTotal,
    roomBytes: on.roomBytes,
    fits,
    fullOn: fits === false && daily !== null ? dayOfOverrun(plan, daily, on.roomBytes ?? 0) : null,
    demandBps: speed.demandBps,
    budgetBps: speed.readBudgetBps,
    budgetLowBps: speed.range?.readLowBps ?? null,
    budgetHighBps: speed.range?.readHighBps ?? null,
    basis: speed.basis,
    anglesLeft: speed.anglesLeft,
    ...nightsOf(on, daily),
    layouts: layoutsOf(on, plan.cameras),
  };
}

function nightsOf({ nights }: PlannedOn, daily: number | null): Pick<PlanAnswer, 'backupSeconds' | 'windowFits'> {
  if (daily === null || nights.length === 0) return { backupSeconds: null, windowFits: null };
  const parts = nights.map(({ shelves, nightBytes, windowSeconds }) => {
    return { seconds: (shelves * daily * windowSeconds) / nightBytes, windowSeconds };
  });
  return {
    backupSeconds: Math.max(...parts.map(({ seconds }) => seconds)),
    windowFits: parts.every(({ seconds, windowSeconds }) => seconds <= windowSeconds),
  };
}

function layoutsOf({ layout, totalBytes, gives, reserve }: PlannedOn, streams: number): LevelChoice[] {
  if (layout === null || totalBytes === null || gives === null) return [];
  return levelChoices({ layout, totalBytes, gives, reserve }, streams);
}

/** What this shoot would be like at another level of the same members. */
export interface LevelVerdict {
  level: ArrayLevel;
  /** Room beside now; negative where there is less. */
  moreBytes: number;
  fits: boolean | null;
  plays: boolean | null;
}

/** Would the shoot fit and play at this level? */
export function verdictAt(answer: PlanAnswer, { level, usableBytes, readBudgetBps }: LevelChoice): LevelVerdict {
  const now = answer.layouts.find(({ isNow }) => isNow);
  const moreBytes = now === undefined ? 0 : usableBytes - now.usableBytes;
  const { bytesTotal, roomBytes, demandBps } = answer;
  return {
    level,
    moreBytes,
    fits: bytesTotal === null || roomBytes === null ? null : bytesTotal <= roomBytes + moreBytes,
    plays: demandBps === null ? null : demandBps <= readBudgetBps,
  };
}
