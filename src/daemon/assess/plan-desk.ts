import type { Assessment, VolumeAssessment } from '../../core/assess/assessment.ts';
import type { KnownPlan } from '../../core/assess/kept-plans.ts';
import { answerPlan, type PlanAnswer, type PlannedOn } from '../../core/assess/plan-answer.ts';
import { type PlanQuestion, UNNAMED, understandPlan } from '../../core/assess/plan-question.ts';
import type { ShootPlan } from '../../core/assess/shoot-plan.ts';
import { HOUR_MS } from '../../core/forecast/growth.ts';
import type { PlannedShoot } from '../../core/forecast/planned.ts';
import { display } from '../../core/present/escape.ts';
import { type PlanSnapshot, planJson } from '../../core/present/plan-json.ts';
import type { FullSettings } from '../../settings/full-settings.ts';
import type { PlanBook } from './plan-book.ts';
import type { KnownProject } from './volume-source.ts';

type PlanSettings = Pick<FullSettings, 'volumes'>;

export interface PlanDeps {
  settings: PlanSettings;
  book: Pick<PlanBook, 'all' | 'keep' | 'drop'>;
  assessment: () => Assessment;
  /** ISO 8601 calendar day, where the user is. */
  today: () => string;
  /** Where the shoot is. */
  zone: string;
  chanceToFit: (volume: string, planned: readonly PlannedShoot[]) => number | null;
  /** Other shoots are planned from now on. */
  changed: () => void;
}

export type PlanTold = { answer: PlanSnapshot } | { problem: string };

export interface PlanDesk {
  /** What is asked about the coming shoot, from how things stand now. */
  ask(question: PlanQuestion): PlanTold;
  /** The same, and it counts as planned from now on; durable when it resolves. */
  keep(question: PlanQuestion): Promise<PlanTold>;
  /** Forgets what was kept for a project: how many plans that were, and the days that the configuration plans for it. */
  drop(project: string): Promise<{ dropped: number; stay: readonly string[] }>;
}

export function createPlanDesk(deps: PlanDeps): PlanDesk {
  const { book, today, changed } = deps;
  return {
    ask: (question) => told(deps, question),
    async keep(question) {
      const understood = understandPlan(book.all(), question, today());
      const answered = told(deps, question);
      if (!understood.ok || 'problem' in answered) return answered;
      if (understood.plan.project === UNNAMED) return { problem: 'name the project it is for, to keep it' };
      const { volume } = question;
      await book.keep(volume === undefined ? understood.plan : { ...understood.plan, volume });
      changed();
      return told(deps, { ...question, project: understood.plan.project });
    },
    async drop(project) {
      const dropped = await book.drop(project);
      changed();
      const stay = book.all().filter((plan) => plan.project === project);
      return { dropped, stay: stay.flatMap(({ days }) => days).filter((day) => day >= today()) };
    },
  };
}

function told({ settings, book, assessment, today, zone, chanceToFit }: PlanDeps, question: PlanQuestion): PlanTold {
  const understood = understandPlan(book.all(), question, today());
  if (!understood.ok) return { problem: understood.problem };
  const now = assessment();
  const volume = volumeFor(now, understood.plan.project, question.volume ?? understood.plan.volume);
  if (typeof volume === 'string') return { problem: volume };
  const sums = now.projects.map(({ sum }) => sum);
  const nights = (now.backups.outlooks.get(volume.name)?.nights ?? []).filter((night) => night !== null);
  const answer = answerPlan(understood.plan, { ...plannedOn(volume, settings), nights }, sums);
  const planned = plannedShoots([understood.plan], [answer], zone);
  const chance = planned.length === 0 ? null : chanceToFit(volume.name, planned);
  return { answer: planJson(answer, understood.others, chance) };
}

/** Every planned shoot that has days to come, on its volume; left out where that is not known. */
export function plansAhead(plans: readonly KnownPlan[], settings: PlanSettings, now: Now, today: string): PlanAnswer[] {
  const sums = now.projects.map(({ sum }) => sum);
  return plans.flatMap((plan) => {
    const understood = understandPlan([plan], {}, today);
    const volume = volumeFor(now, plan.project, plan.volume);
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

function plannedOn({ name, speed, capacity, layout }: VolumeAssessment, settings: PlanSettings): PlannedOn {
  return {
    volume: name,
    gives: speed.gives,
    reserve: settings.volumes.find((volume) => volume.name === name)?.speedReserve ?? speed.reserveShare,
    layout: layout?.speed ?? null,
    totalBytes: capacity?.space.totalBytes ?? null,
    roomBytes: capacity?.roomBytes ?? null,
    nights: [],
  };
}
