import type { Ratio } from '../model.ts';
import type { ShootPlan } from './shoot-plan.ts';

/** What is asked about; what is left out is as in the shoot plan of the configuration. */
export interface PlanQuestion {
  project?: string;
  volume?: string;
  cameras?: number;
  format?: string;
  raster?: { width: number; height: number };
  rate?: Ratio;
  hours?: number;
  /** So many days; without `from`, from today on. */
  days?: number;
  /** The first day, ISO 8601. */
  from?: string;
}

/** A shoot of which no project was named. */
export const UNNAMED = 'this shoot';

export type PlanUnderstood =
  | { ok: true; plan: ShootPlan /** Projects that are planned for as well. */; others: string[] }
  | { ok: false; problem: string };

/**
 * The shoot that is asked about: the plan of that project, or the one that begins first, with what the question says otherwise; of its
 * days those from `today` (ISO 8601) on. Without a plan the question must say all.
 */
export function understandPlan(plans: readonly ShootPlan[], question: PlanQuestion, today: string): PlanUnderstood {
  const coming = plans
    .map((plan) => ({ ...plan, days: plan.days.filter((day) => day >= today) }))
    .filter(({ days, project }) => days.length > 0 && (question.project === undefined || project === question.project))
    .sort((one, other) => ((one.days[0] ?? '') < (other.days[0] ?? '') ? -1 : 1));
  if (question.from !== undefined && question.from < today) return { ok: false, problem: past(question.from, today) };
  const [first] = coming;
  const others = [...new Set(coming.slice(1).map(({ project }) => project))].filter((name) => name !== first?.project);
  const plan = first === undefined ? fromQuestion(question, today) : changed(first, question, today);
  if (typeof plan !== 'string') return { ok: true, plan, others };
  return { ok: false, problem: nothingPlanned(plans, question, plan) };
}

function changed(plan: ShootPlan, question: PlanQuestion, today: string): ShootPlan {
  const { cameras, format, raster, rate, hours, days, from } = question;
  const isMoved = days !== undefined || from !== undefined;
  return {
    ...plan,
    days: isMoved ? daysFrom(from ?? today, days ?? plan.days.length) : plan.days,
    cameras: cameras ?? plan.cameras,
    format: format ?? plan.format,
    width: raster?.width ?? plan.width,
    height: raster?.height ?? plan.height,
    frameRate: rate ?? plan.frameRate,
    hours: hours ?? plan.hours,
  };
}

/** The names of what is missing, where something is. */
function fromQuestion(question: PlanQuestion, today: string): ShootPlan | string {
  const { project, cameras, format, raster, rate, hours, days, from } = question;
  const missing = Object.entries({ cameras, format, raster, rate, hours })
    .filter(([, value]) => value === undefined)
    .map(([name]) => `--${name}`);
  if (cameras === undefined || format === undefined || raster === undefined) return missing.join(', ');
  if (rate === undefined || hours === undefined) return missing.join(', ');
  const { width, height } = raster;
  return {
    ...{ project: project ?? UNNAMED, days: daysFrom(from ?? today, days ?? 1), cameras },
    ...{ format, width, height, frameRate: rate, hours },
  };
}

function past(from: string, today: string): string {
  return `${from} is past; it is ${today} now. What was shot by then counts by itself`;
}

function nothingPlanned(plans: readonly ShootPlan[], { project }: PlanQuestion, missing: string): string {
  const ask = `or say the rest of it: ${missing}`;
  if (plans.length === 0)
    return `no shoot is planned; write a [[plan]] into the configuration, ${ask} (and --keep, to keep it)`;
  const names = [...new Set(plans.map((plan) => plan.project))].join(', ');
  return project === undefined
    ? `all days of the shoot plans (${names}) have passed; write down those to come, ${ask}`
    : `no shoot day to come is planned for ${project}; there are plans for ${names}. Add one, ${ask}`;
}

function daysFrom(today: string, count: number): string[] {
  const first = Temporal.PlainDate.from(today);
  return Array.from({ length: count }, (_, index) => first.add({ days: index }).toString());
}

/** A question as it came over the wire; what is of another shape is left out. */
export function readQuestion(told: unknown): PlanQuestion {
  const { project, volume, format, from, cameras, hours, days, raster, rate } = Object(told) as Record<string, unknown>;
  const text = Object.entries({ project, volume, format }).filter(([, value]) => typeof value === 'string');
  const first = typeof from === 'string' && isDay(from) ? [['from', from]] : [];
  const counts = Object.entries({ cameras, hours, days }).filter(([, value]) => isPositive(value));
  const pairs = [
    ...(hasPositive(raster, 'width', 'height') ? [['raster', raster]] : []),
    ...(hasPositive(rate, 'num', 'den') ? [['rate', rate]] : []),
  ];
  return Object.fromEntries([...text, ...first, ...counts, ...pairs]) as PlanQuestion;
}

function isDay(text: string): boolean {
  try {
    return Temporal.PlainDate.from(text).toString() === text;
  } catch {
    return false;
  }
}

function hasPositive(told: unknown, ...keys: string[]): boolean {
  return keys.every((key) => isPositive((Object(told) as Record<string, unknown>)[key]));
}

/** Above this nothing that is asked here makes sense. */
const MOST = 100_000;

function isPositive(value: unknown): boolean {
  return typeof value === 'number' && value > 0 && value <= MOST;
}
