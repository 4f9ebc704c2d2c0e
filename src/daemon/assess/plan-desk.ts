import type { Assessment, VolumeAssessment } from '../../core/assess/assessment.ts';
import { answerPlan, type PlanAnswer, type PlannedOn } from '../../core/assess/plan-answer.ts';
import { type PlanQuestion, understandPlan } from '../../core/assess/plan-question.ts';
import type { ShootPlan } from '../../core/assess/shoot-plan.ts';
import { HOUR_MS } from '../../core/forecast/growth.ts';
import type { PlannedShoot } from '../../core/forecast/planned.ts';
import { display } from '../../core/present/escape.ts';
import { type PlanSnapshot, planJson } from '../../core/present/plan-json.ts';
import type { FullSettings } from '../../settings/full-settings.ts';
import type { KnownProject } from './volume-source.ts';

export interface PlanDeps {
  settings: Pick<FullSettings, 'plans' | 'volumes'>;
  assessment: () => Assessment;
  /** ISO 8601 calendar day, where the user is. */
  today: () => string;
  /** Where the shoot is. */
  zone: string;
  chanceToFit: (volume: string, planned: readonly PlannedShoot[]) => number | null;
}

export type PlanTold = { answer: PlanSnapshot } | { problem: string };

/** Answers what is asked about the coming shoot, from how things stand now. */
export function createPlanDesk({
  settings,
  assessment,
  today,
  zone,
  chanceToFit,
}: PlanDeps): (question: PlanQuestion) => PlanTold {
  return (question) => {
    const understood = understandPlan(settings.plans, question, today());
    if (!understood.ok) return { problem: understood.problem };
    const now = assessment();
    const volume = volumeFor(now, understood.plan.project, question.volume);
    if (typeof volume === 'string') return { problem: volume };
    const sums = now.projects.map(({ sum }) => sum);
    const answer = answerPlan(understood.plan, plannedOn(volume, settings), sums);
    const planned = plannedShoots([understood.plan], [answer], zone);
    const chance = planned.length === 0 ? null : chanceToFit(volume.name, planned);
    return { answer: planJson(answer, understood.others, chance) };
  };
}

/** Every planned shoot that has days to come, on its volume; left out where that is not known. */
export function plansAhead(settings: PlanDeps['settings'], now: Now, today: string): PlanAnswer[] {
  const sums = now.projects.map(({ sum }) => sum);
  return settings.plans.flatMap((plan) => {
    const understood = understandPlan([plan], {}, today);
    const volume = volumeFor(now, plan.project);
    if (!understood.ok || typeof volume === 'string') return [];
    return [answerPlan(understood.plan, plannedOn(volume, settings), sums)];
  });
}

/** The planned shoots with all their days, past ones too: from those is learnt how well plans are kept. A day is one of the zone. */
export function plannedShoots(
  settings: readonly Pick<ShootPlan, 'project' | 'days'>[],
  answers: readonly PlanAnswer[],
  zone: string,
): PlannedShoot[] {
  return answers.flatMap(({ plan: { project, days: ahead }, bytesPerDay: bytes }) => {
    const isIt = (one: (typeof settings)[number]) => one.project === project && one.days.includes(ahead[0] ?? '');
    const days = settings.find(isIt)?.days ?? [];
    if (bytes === null || bytes <= 0) return [];
    return [
      {
        project,
        days: days.map((text) => {
          const day = Temporal.PlainDate.from(text);
          return { fromHour: hourOf(day, zone), toHour: hourOf(day.add({ days: 1 }), zone), bytes };
        }),
      },
    ];
  });
}

/** Hours since 1970 at which a day begins; days on which clocks are set have 23 or 25. */
function hourOf(day: Temporal.PlainDate, zone: string): number {
  return day.toZonedDateTime({ timeZone: zone }).epochMilliseconds / HOUR_MS;
}

interface Now {
  volumes: readonly VolumeAssessment[];
  projects: readonly KnownProject[];
}

/** The one that was named, else where the project lies, else the only one; in words, when that is not to be told. */
function volumeFor({ volumes, projects }: Now, project: string, named?: string): VolumeAssessment | string {
  const names = volumes.map(({ name }) => display(name)).join(', ');
  if (named !== undefined)
    return volumes.find(({ name }) => name === named) ?? `there is no volume ${display(named)}; there are ${names}`;
  const at = new Set(projects.filter(({ sum }) => sum.project === project).map(({ sum }) => sum.volume));
  const likely = at.size > 0 ? volumes.filter(({ name }) => at.has(name)) : volumes;
  const [only, ...more] = likely;
  return only !== undefined && more.length === 0
    ? only
    : `it is not known on which volume ${display(project)} will lie; add --volume NAME: ${names}`;
}

function plannedOn({ name, speed, capacity, layout }: VolumeAssessment, settings: PlanDeps['settings']): PlannedOn {
  return {
    volume: name,
    gives: speed.gives,
    reserve: settings.volumes.find((volume) => volume.name === name)?.speedReserve ?? speed.reserveShare,
    layout: layout?.speed ?? null,
    totalBytes: capacity?.space.totalBytes ?? null,
    roomBytes: capacity?.roomBytes ?? null,
  };
}
