import { type Draws, drawBeta } from './draws.ts';
import { keptOf, PLANNED_DAY_SD, type PlanModel, ratioOf } from './plan-model.ts';
import type { ShootModel } from './shoot-model.ts';

/** A shoot that seems to go on: footage came within the last hours. */
export interface Session {
  /** Bytes since it began. */
  bytes: number;
}

export interface PathInput {
  model: ShootModel;
  session: Session | null;
  plan: PlanModel | null;
  days: number;
  draws: Draws;
}

/** A session that goes on brings more with this chance. */
const GOES_ON = 0.7;
/** So many paths take no notice of the plan: it may be that of another volume, or of a shoot that is off. */
const IGNORES_PLAN = 0.12;
/** Chance, each day, that all that is still planned comes a day later. */
const SLIPS = 0.05;
/** What else is written is drawn from the past, so many days in a row. */
const BLOCK_DAYS = 5;

/** Bytes that each of the coming days brings, drawn once. */
export function drawPath(input: PathInput): number[] {
  const { model, plan, draws, days } = input;
  const usesPlan = plan !== null && plan.days.size > 0 && draws.uniform() >= IGNORES_PLAN;
  const shoots = drawShoots(input, usesPlan ? daysOfPlan(plan) : null);
  const planned = usesPlan ? drawPlan(plan, days, draws) : null;
  const other = drawOther(model, days, draws);
  return shoots.map((bytes, day) => bytes + (planned?.[day] ?? 0) + (other[day] ?? 0));
}

/** Days from the first on to the last, that one not included. */
interface Span {
  from: number;
  to: number;
  /** Something is planned for the coming 24 hours. */
  isNow: boolean;
}

/** Whoever plans a shoot plans the week before it, too; further ahead nobody has said that nothing else is shot. */
const PLANNED_BEFORE_DAYS = 7;

function daysOfPlan({ days }: PlanModel): Span {
  const from = Math.max(0, Math.min(...days.keys()) - PLANNED_BEFORE_DAYS);
  return { from, to: Math.max(...days.keys()) + 1, isNow: days.has(0) };
}

/** `planned`: days that are those of the plan. */
function drawShoots({ model, session, days, draws }: PathInput, planned: Span | null): number[] {
  const stays = drawBeta(draws, model.stays);
  const begins = draws.gamma(model.begins.shape) / model.begins.rate;
  const size = drawSize(model, draws);
  let isActive = model.isActive;
  return Array.from({ length: days }, (_, day) => {
    const rest = day === 0 && session !== null && planned?.isNow !== true ? restOf(session, size, draws) : 0;
    if (planned !== null && day >= planned.from && day < planned.to) {
      isActive = false;
      return rest;
    }
    const chance = isActive ? stays : 1 - Math.exp(-begins * (model.weekday[(day + 1) % 7] ?? 1));
    isActive = draws.uniform() < chance;
    return rest + (isActive ? size() : 0);
  });
}

/** What is still to come of a session: X - s, given that X > s. */
function restOf({ bytes }: Session, size: () => number, draws: Draws): number {
  if (draws.uniform() >= GOES_ON) return 0;
  for (let tries = 0; tries < 20; tries++) {
    const whole = size();
    if (whole > bytes) return whole - bytes;
  }
  return 0.1 * bytes;
}

function drawSize({ size, largestBytes }: ShootModel, draws: Draws): () => number {
  const chi2 = 2 * draws.gamma(size.nu / 2);
  const variance = (size.nu * size.variance) / chi2;
  const mean = size.mean + Math.sqrt(variance / size.kappa) * draws.normal();
  const sd = Math.sqrt(variance);
  return () => Math.min(largestBytes, Math.exp(mean + sd * draws.normal()));
}

function drawPlan(plan: PlanModel, days: number, draws: Draws): number[] {
  const { mean, sd } = ratioOf(plan);
  const ratio = mean + sd * draws.normal();
  const kept = drawBeta(draws, keptOf(plan));
  const drawn = new Array<number>(days).fill(0);
  let late = 0;
  for (const [day, bytes] of [...plan.days].sort(([one], [other]) => one - other)) {
    while (draws.uniform() < SLIPS) late += 1;
    const at = day + late;
    if (at < days && draws.uniform() < kept)
      drawn[at] = (drawn[at] ?? 0) + bytes * Math.exp(ratio + PLANNED_DAY_SD * draws.normal());
  }
  return drawn;
}

function drawOther({ other }: ShootModel, days: number, draws: Draws): number[] {
  const drawn: number[] = [];
  while (drawn.length < days && other.length > 0) {
    const start = Math.floor(draws.uniform() * other.length);
    // Time runs towards 0 in the past.
    for (let step = 0; step < BLOCK_DAYS && drawn.length < days; step++)
      drawn.push(other[(start - step + other.length) % other.length] ?? 0);
  }
  return drawn;
}
