import type { AdviceState } from '../../core/advise/advise.ts';
import {
  type Assessment,
  NOTHING_OF_MACHINE,
  type ProjectAssessment,
  type VolumeAssessment,
} from '../../core/assess/assessment.ts';
import { usedBytes, writableBytes } from '../../core/assess/capacity.ts';
import { footageLeft, stillToCome } from '../../core/assess/capacity-forecast.ts';
import type { PlanAnswer } from '../../core/assess/plan-answer.ts';
import { type Removed, sumRemovals } from '../../core/assess/removed.ts';
import { workingSession } from '../../core/assess/working-session.ts';
import { type BackupView, NO_BACKUPS } from '../../core/backup/backup-view.ts';
import { wantedCopies } from '../../core/backup/wanted-copies.ts';
import type { PlannedShoot } from '../../core/forecast/planned.ts';
import type { Instant, PathText } from '../../core/model.ts';
import type { Clock } from '../../core/ports.ts';
import type { LedgerPort } from '../../core/store-ports.ts';
import type { ThresholdSettings } from '../../settings/settings.ts';
import type { ArrivalTotals } from '../intake/pending.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import type { DriveView } from './drive-view.ts';
import type { FootageView } from './footage-view.ts';
import type { ForecastView } from './forecast-view.ts';
import type { GrowthView } from './growth-view.ts';
import type { LoadView, VolumeLoad } from './load-view.ts';
import type { MachineView } from './machine-view.ts';
import type { SampleView } from './sample-view.ts';
import { withShelvesAhead } from './shelf-ahead.ts';
import type { SpaceView } from './space-view.ts';
import {
  assessVolumes,
  type KnownFootage,
  type KnownProject,
  type VolumeAnswers,
  type VolumeSource,
} from './volume-source.ts';

const DAY_MS = 86_400_000;

/** One look at everything; of the arrivals the assessment has some lines, and the totals all. */
export interface Seen {
  assessment: Assessment;
  arrivalTotals: ArrivalTotals;
}

export interface LookDeps {
  volumes: readonly VolumeSource[];
  ledger: LedgerPort;
  /** IANA name of the zone in which days are told. */
  zone: string;
  /** `null`: the configuration does not say. */
  thresholds: Pick<ThresholdSettings, 'wantedCopies' | 'sessionSeconds'>;
  /** Each copy is read again within this time. */
  readPeriodMs: number;
  trouble: StoreTrouble;
  clock: Clock;
  /** The cards beside what has arrived of them. */
  cards: () => Pick<Assessment, 'cards' | 'unseen'> & Partial<Pick<Assessment, 'onCards'>>;
  /** Shelves, runs and copies. */
  backups: () => BackupView;
  /** Shoots that are to come, as things stand. */
  plans: (now: { volumes: readonly VolumeAssessment[]; projects: readonly KnownProject[] }) => PlanAnswer[];
  /** All days of these shoots, those that are past among them, by hours since 1970. */
  planned: (plans: readonly PlanAnswer[]) => PlannedShoot[];
}

export interface Views {
  space: SpaceView;
  footage: FootageView;
  load: LoadView;
  samples: SampleView;
  drives: DriveView;
  growth: GrowthView;
  forecast: ForecastView;
  machine: MachineView;
}

export async function look(
  deps: LookDeps,
  { space, footage, load, samples, drives, growth, forecast, machine }: Views,
  advice: AdviceState,
): Promise<Seen> {
  const [rooms, known] = [await space.measure(), await footage.read()];
  const removed = await removedLastDay(deps);
  const at = deps.clock.now();
  const shown = deps.volumes.map((volume) => volume.arrivals(toldOf(volume.settings.name, advice)));
  const sum = (of: (shown: ArrivalTotals) => number) => shown.reduce((total, one) => total + of(one), 0);
  const volumes = assessVolumes(
    deps.volumes,
    {
      ...{ at, rooms, removed, loads: loadsOf(deps, load), samples: samples.of, drives: drives.of },
      wanted: (volume) => wantedOf(deps, volume),
    },
    known,
  );
  const plans = deps.plans({ volumes, projects: known.projects });
  const { cards, unseen, onCards = null } = deps.cards();
  await noteGrowth(deps, growth, known, rooms, at);
  return {
    assessment: {
      ...{ at, zone: deps.zone },
      volumes: volumes.map((volume) => ahead(volume, { at, known, plans, cards, deps, growth, forecast })),
      projects: known.projects.map((project) => ({ ...project, edit: editOf(project, deps, plans, load) })),
      arrivals: shown.flatMap(({ lines }) => lines),
      ...{ cards, unseen, onCards },
      plans,
      backups: withShelvesAhead(deps.backups(), {
        ...{ at, growth: growth.of, forecast },
        planned: (volume) => deps.planned(plans.filter((plan) => plan.volume === volume)),
      }),
      machine: await machine.look(),
      stateTrouble: deps.trouble.current(),
    },
    arrivalTotals: { pending: sum(({ pending }) => pending), bytes: sum(({ bytes }) => bytes) },
  };
}

/** Books how things stand, on volumes of which all is known just now. */
async function noteGrowth(
  { volumes }: LookDeps,
  growth: GrowthView,
  known: KnownFootage,
  rooms: VolumeAnswers['rooms'],
  at: Instant,
): Promise<void> {
  for (const volume of volumes) {
    const { name } = volume.settings;
    const room = rooms.get(name);
    if (room?.fresh !== true || volume.state().state !== 'live' || !volume.complete()) continue;
    const mine = known.projects.filter(({ sum }) => sum.volume === name);
    const footageBytes = mine.reduce((total, { sum }) => total + sum.footageBytes, 0);
    await growth.note(name, { at, usedBytes: usedBytes(room.space), footageBytes }, writableBytes(room.space));
  }
}

interface Ahead {
  at: Instant;
  known: KnownFootage;
  plans: readonly PlanAnswer[];
  cards: Assessment['cards'];
  deps: LookDeps;
  growth: GrowthView;
  forecast: Views['forecast'];
}

/** What is to come. Until a volume was read what came is known from before, if at all. */
function ahead(volume: VolumeAssessment, { at, known, plans, cards, deps, growth, forecast }: Ahead): VolumeAssessment {
  const { name, capacity } = volume;
  const isRead = deps.volumes.some(({ settings, complete }) => settings.name === name && complete());
  const booked = growth.of(name);
  if (capacity === null || (!isRead && booked.hours.length === 0)) return volume;
  const mine = plans.filter((plan) => plan.volume === name);
  const ahead = forecast.of({ volume: name, at, capacity, growth: booked, planned: deps.planned(mine) });
  const left = footageLeft(capacity, stillToCome(cards, name), known.newest.get(name) ?? [], booked.hours, at);
  const { sessionSeconds: configured } = deps.thresholds;
  const shoot = { plans: mine.map(({ plan }) => plan), hours: booked.hours, forecast: ahead, bps: left?.bps ?? null };
  return {
    ...volume,
    forecast: ahead,
    footageLeft: left,
    session: workingSession({ ...shoot, configured, at, zone: deps.zone }),
  };
}

/** Before the first look. */
export function nothingSeen(deps: LookDeps): Seen {
  const { volumes, clock } = deps;
  const known = { projects: [], newest: new Map(), unsearched: new Set<string>() };
  const at = clock.now();
  const drives = () => ({ detected: null, signs: [] });
  const nothing = { at, rooms: new Map(), removed: new Map(), loads: new Map(), samples: () => [], drives };
  const wanted = (volume: string) => wantedOf(deps, volume);
  const assessment: Assessment = {
    ...{ at, zone: deps.zone },
    volumes: assessVolumes(volumes, { ...nothing, wanted }, known),
    ...{ projects: [], arrivals: [], cards: [], unseen: [], onCards: null, plans: [], backups: NO_BACKUPS },
    ...{ machine: NOTHING_OF_MACHINE, stateTrouble: null },
  };
  return { assessment, arrivalTotals: { pending: 0, bytes: 0 } };
}

function wantedOf({ thresholds, readPeriodMs, backups }: LookDeps, volume: string): VolumeAssessment['wanted'] {
  const { shelves, commands } = backups();
  const { byVolume, copies } = wantedCopies(thresholds.wantedCopies, [volume], shelves, commands);
  return { copies: byVolume[volume] ?? copies, readWithinDays: Math.round(readPeriodMs / DAY_MS) };
}

/** What tells that a project's angles are played together. */
function editOf(
  { sum }: KnownProject,
  { volumes }: LookDeps,
  plans: readonly PlanAnswer[],
  load: LoadView,
): ProjectAssessment['edit'] {
  const settings = volumes.find((volume) => volume.settings.name === sum.volume)?.settings;
  const cameras = plans
    .filter(({ plan }) => plan.project === sum.project && plan.cameras > 1)
    .map(({ plan }) => plan.cameras);
  return {
    declared: sum.project !== null && settings?.multicam.includes(sum.project) === true,
    plannedCameras: cameras.length === 0 ? null : Math.max(...cameras),
    beingRead: load.of(sum.volume).beingRead,
  };
}

async function removedLastDay({ volumes, ledger, clock, trouble }: LookDeps): Promise<Map<string, Removed>> {
  const since = clock.now() - DAY_MS;
  const removed = new Map<string, Removed>();
  try {
    for (const { settings } of volumes)
      removed.set(settings.name, sumRemovals(await ledger.removals(settings.name, since)));
  } catch (error) {
    // It must not silence everything else.
    trouble.refused(error);
  }
  return removed;
}

function loadsOf({ volumes }: LookDeps, load: LoadView): Map<string, VolumeLoad> {
  return new Map(volumes.map(({ settings: { name } }) => [name, load.of(name)]));
}

/** Paths of a volume's arrivals that something was said about: whether it still holds is seen from their lines. */
function toldOf(volume: string, advice: AdviceState): PathText[] {
  const begin = `${volume}/`;
  return [...advice.values()].flatMap(({ subject }) =>
    subject.startsWith(begin) ? [subject.slice(begin.length)] : [],
  );
}
