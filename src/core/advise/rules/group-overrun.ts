import type { Assessment, MulticamGroup, ProjectAssessment, VolumeAssessment } from '../../assess/assessment.ts';
import { cameraOf } from '../../assess/camera.ts';
import { leftWhenFull } from '../../assess/fill-level.ts';
import { type GroupUse, groupNeed, proxyPlayback, readingOf, useOf } from '../../assess/group-use.ts';
import type { PlanAnswer } from '../../assess/plan-answer.ts';
import { needBps, type Playback, withMoreStreams } from '../../assess/playback-need.ts';
import { asReading, readBudget } from '../../assess/speed-budget.ts';
import { playbackOf } from '../../assess/stream-load.ts';
import { display } from '../../present/escape.ts';
import { formatCount, formatRate } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { speedRemedies } from '../speed-remedy.ts';
import { basisWords, beyond } from '../speed-words.ts';
import type { Outcome, Thresholds } from './rule.ts';

/** A camera whose clip arrives so long after the group's newest belongs to another day's work. */
const SAME_SHOOT_MS = 24 * 3_600_000;

/** A camera that is told with less than this is guessed, and is no further angle. */
const SURE_CAMERA = 0.6;

type Judged = Exclude<Outcome, string>;

/** What is found of each project on the volume, by subject: its heaviest group, and the shoot that is planned for it. */
export function judgeGroups(
  volume: VolumeAssessment,
  assessment: Assessment,
  thresholds: Thresholds,
): Map<string, Judged> {
  const outcomes = new Map<string, Judged>();
  for (const project of assessment.projects.filter(({ sum }) => sum.volume === volume.name)) {
    const worst = worstOf(project, volume, assessment);
    if (worst !== null) outcomes.set(subjectOf(volume, project.sum.project), judge(worst, thresholds));
  }
  for (const plan of assessment.plans.filter((one) => one.volume === volume.name && one.plan.cameras > 1)) {
    const subject = subjectOf(volume, plan.plan.project);
    const outcome = judgePlan(plan, volume, assessment, thresholds);
    const before = outcomes.get(subject) ?? null;
    if (before === null || (outcome !== null && 'between' in before)) outcomes.set(subject, outcome);
  }
  return outcomes;
}

function subjectOf({ name }: VolumeAssessment, project: string | null): string {
  return `${name}/${project ?? ''}`;
}

/** A group as it is, or will be, played. */
interface GroupCase {
  volume: VolumeAssessment;
  project: ProjectAssessment;
  assessment: Assessment;
  group: MulticamGroup;
  use: GroupUse | null;
  /** What is played of it, with the angles that are still to come. */
  playback: Playback;
  /** Cameras whose clips are arriving. */
  coming: string[];
  withProxies: boolean;
  needBps: number;
  budgetBps: number | null;
}

function caseOf(
  group: MulticamGroup,
  project: ProjectAssessment,
  volume: VolumeAssessment,
  assessment: Assessment,
): GroupCase {
  const { edit } = project;
  const use = group.confidence < SURE_CAMERA ? null : useOf(group, edit);
  const reading = readingOf(group, edit.beingRead);
  // Where every angle has a proxy the edit is taken to read those, unless the originals are seen being read.
  const proxies = reading === 'originals' ? null : proxyPlayback(group);
  const coming = proxies === null ? comingCameras(group, project, assessment) : [];
  const playback = withMoreStreams(proxies ?? playbackOf(group), coming.length);
  const { speed } = volume;
  // A group that nobody is known to play is judged without what else goes on there now.
  const ambient = use === null || speed.ambient === null ? 0 : asReading(speed.ambient, speed.gives);
  return {
    ...{ volume, project, assessment, group, use, playback, coming, withProxies: proxies !== null },
    needBps: needBps(playback, ambient),
    budgetBps: speed.gives === null ? null : readBudget(speed.gives, speed.reserveShare, playback.streams),
  };
}

/** Cameras of this project that are not in the group, whose clips are on their way now. */
function comingCameras(group: MulticamGroup, { sum }: ProjectAssessment, { arrivals, at }: Assessment): string[] {
  if (at - group.readyAt > SAME_SHOOT_MS || sum.project === null) return [];
  const cameras = arrivals
    .filter(({ volume, path }) => volume === sum.volume && path.startsWith(`${sum.project}/`))
    .filter(({ stage }) => stage === 'copying' || stage === 'settling' || stage === 'probing')
    .map(({ path }) => cameraOf({ name: path, paths: [path], facts: { reel: null, camera: null } }))
    .filter(({ camera, confidence }) => camera !== null && confidence >= SURE_CAMERA)
    .map(({ camera }) => camera ?? '');
  return [...new Set(cameras)].filter((camera) => !group.cameras.includes(camera)).sort();
}

/** Of equal ones the first. */
function worstOf(project: ProjectAssessment, volume: VolumeAssessment, assessment: Assessment): GroupCase | null {
  let worst: { one: GroupCase; excess: number } | null = null;
  for (const group of project.multicam) {
    const one = caseOf(group, project, volume, assessment);
    if (worst === null || excess(one) > worst.excess) worst = { one, excess: excess(one) };
  }
  return worst?.one ?? null;
}

/** Share of the budget: the worst is told. */
function excess({ needBps: need, budgetBps }: GroupCase): number {
  return budgetBps === null || budgetBps <= 0 ? need : need / budgetBps;
}

function judge(one: GroupCase, thresholds: Thresholds): Judged {
  const { budgetBps, needBps: need } = one;
  if (budgetBps === null) return null;
  if (need > budgetBps * thresholds.speedRaise) return findingOf(one, budgetBps);
  // What nobody is known to play may wait for that day.
  const whenFull = one.use === null ? 1 : leftWhenFull(one.volume);
  if (whenFull < 1 && need > budgetBps * whenFull * thresholds.speedRaise) return whenFullOf(one, budgetBps * whenFull);
  return need >= budgetBps * thresholds.speedClear ? { between: findingOf(one, budgetBps) } : null;
}

function findingOf(one: GroupCase, budgetBps: number): Finding {
  const { volume, project, group, use, playback, coming, needBps: need } = one;
  const both = groupNeed(group, volume.speed.gives, volume.speed.reserveShare, 0);
  const withAmbient = use !== null && volume.speed.ambient !== null;
  return {
    kind: 'speed-overrun',
    subject: subjectOf(volume, project.sum.project),
    severity: use === null || coming.length > 0 ? 'notice' : 'warning',
    message: messageOf(one, budgetBps),
    figures: {
      demandBps: need,
      budgetBps,
      shortBps: need - budgetBps,
      angles: playback.streams,
      project: project.sum.project,
      use,
      coming: coming.join(', ') || null,
      originalsBps: both.originalsBps,
      proxiesBps: both.proxiesBps,
      confidence: group.confidence,
      evidence: group.evidence,
      basis: volume.speed.basis,
    },
    remedies: speedRemedies(
      { playback, withAmbient, group, formats: project.sum.formats },
      volume,
      one.assessment.volumes,
    ),
  };
}

/** It plays now, and will not when the volume is filled: rotating drives read slower on their inner tracks. */
function whenFullOf(one: GroupCase, budgetBps: number): Finding {
  const { volume, playback, needBps: need, project } = one;
  const now = findingOf(one, budgetBps);
  const name = display(project.sum.project ?? '');
  const angles = `playing ${playback.streams} angles of ${name} at once needs ${formatRate(need)}`;
  const then = `when it is filled up to its reserve, its rotating drives give about ${formatRate(budgetBps)} of what may be asked for`;
  return {
    ...now,
    severity: 'notice',
    message: `${display(volume.name)}: ${angles}, which it gives now; ${then} (inner tracks are slower).`,
    figures: { ...now.figures, whenFull: 'yes' },
  };
}

function messageOf(one: GroupCase, budgetBps: number): string {
  const { volume, project, group, use, playback, coming, withProxies, needBps: need } = one;
  const name = display(project.sum.project ?? '');
  const place = display(volume.name);
  const angles = `${playback.streams} angles of ${name} at once${withProxies ? ', as proxies,' : ''}`;
  const much = `needs ${formatRate(need)}, ${beyond(need, budgetBps)}${basisWords(volume)}`;
  const cameras = `cameras ${group.cameras.map(display).join(', ')}; ${display(group.evidence)}`;
  if (coming.length > 0) {
    const next = `${coming.length === 1 ? 'Camera' : 'Cameras'} ${coming.map(display).join(', ')} of ${name} ${coming.length === 1 ? 'is' : 'are'} arriving on ${place}`;
    return `${next}. If they ran with the ${formatCount(group.angles, 'angle')} that are here (${cameras}), playing ${angles} ${much}.`;
  }
  if (use === null) {
    return `${place}: ${group.angles} cameras of ${name} ran at the same time (${cameras}). Playing ${angles} ${much}. Nothing to do unless it is cut as multicam.`;
  }
  return `${place}: playing ${angles} ${much}. ${USE_WORDS[use]}${need > budgetBps ? ' Expect dropped frames.' : ''}`;
}

const USE_WORDS: Readonly<Record<GroupUse, string>> = {
  declared: 'The configuration says that the project is cut as multicam.',
  planned: 'Its shoot plan has several cameras.',
  played: 'Its files are being read together now.',
};

/** The cameras of a shoot that is to come. */
function judgePlan(
  { plan, rate, demandBps, budgetBps }: PlanAnswer,
  volume: VolumeAssessment,
  { volumes }: Assessment,
  thresholds: Thresholds,
): Judged {
  if (rate === null || demandBps === null || budgetBps === null) return null;
  if (demandBps < budgetBps * thresholds.speedClear) return null;
  const playback = { streams: plan.cameras, meanBps: plan.cameras * rate.bps, spreadBps: 0, largestBps: rate.bps };
  const days = plan.days.length === 1 ? plan.days[0] : `${plan.days[0]} to ${plan.days.at(-1)}`;
  const what = `${plan.cameras} cameras in ${display(plan.format)} ${plan.width}x${plan.height}`;
  const finding: Finding = {
    kind: 'speed-overrun',
    subject: subjectOf(volume, plan.project),
    severity: 'warning',
    message: `${display(volume.name)}: ${display(plan.project)} is to be shot with ${what} (${days}). Playing them at once needs ${formatRate(demandBps)}, ${beyond(demandBps, budgetBps)}${basisWords(volume)}.`,
    figures: {
      ...{ demandBps, budgetBps, shortBps: demandBps - budgetBps, angles: plan.cameras, project: plan.project },
      ...{ use: 'planned', rateFrom: rate.from, basis: volume.speed.basis },
    },
    remedies: speedRemedies({ playback, withAmbient: false, group: null, formats: [] }, volume, volumes),
  };
  return demandBps > budgetBps * thresholds.speedRaise ? finding : { between: finding };
}
