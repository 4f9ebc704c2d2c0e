import { restoreAdvice, storeAdvice } from '../../core/advise/advice-store.ts';
import type { Advice, AdviceState, StandingAdvisory } from '../../core/advise/advise.ts';
import { advise, NO_ADVICE, raisedAdvisories, withSnoozes } from '../../core/advise/advise.ts';
import { nextDue } from '../../core/advise/next-due.ts';
import { isSnoozed, type Snooze } from '../../core/advise/snooze.ts';
import type { Assessment } from '../../core/assess/assessment.ts';
import type { SpeedSample } from '../../core/assess/speed-sample.ts';
import type { BackupStorePort } from '../../core/backup/copies.ts';
import { readSince, wantedCopies } from '../../core/backup/wanted-copies.ts';
import type { SumStorePort } from '../../core/cards/known-list.ts';
import type { DrivePort } from '../../core/drive-port.ts';
import { messageOf } from '../../core/fault.ts';
import type { DrawsOf } from '../../core/forecast/draws.ts';
import type { PlannedShoot } from '../../core/forecast/planned.ts';
import type { LoadPort } from '../../core/load-port.ts';
import type { MachinePort } from '../../core/machine-port.ts';
import type { MulticamPort } from '../../core/multicam-port.ts';
import type { Announcer } from '../../core/notify/queue-port.ts';
import type { Log, NotifyPort } from '../../core/ports.ts';
import { type Snapshot, type SnapshotContext, snapshot } from '../../core/present/snapshot.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { ThresholdSettings } from '../../settings/settings.ts';
import { createDriveView, type DriveView } from './drive-view.ts';
import { createFootageView } from './footage-view.ts';
import { createForecastView } from './forecast-view.ts';
import { createGrowthView } from './growth-view.ts';
import { createLoadView } from './load-view.ts';
import { type LookDeps, look, nothingSeen, type Seen } from './look.ts';
import { createLookedThrough } from './looked-through.ts';
import { createMachineView } from './machine-view.ts';
import { createSampleView } from './sample-view.ts';
import { createSpaceView } from './space-view.ts';
import type { VolumeSource } from './volume-source.ts';

/**
 * The whole is looked at again this often, besides after every change and when a hold time ends: while something arrives,
 * and while nothing happens. Room moves by itself.
 */
const busyMs = 5_000;
const idleMs = 30_000;

/** Changes are gathered for this long, so that a burst costs one pass. */
const gatherMs = 250;

export interface AssessDeps extends LookDeps {
  catalogue: CataloguePort;
  copies: Pick<BackupStorePort, 'projectCopies'>;
  contents: Pick<SumStorePort, 'versionsAt'>;
  multicam: MulticamPort;
  load: LoadPort;
  drives: DrivePort;
  machine: MachinePort;
  draws: DrawsOf;
  notify: NotifyPort;
  channels: Announcer;
  log: Log;
  thresholds: ThresholdSettings;
  context: () => SnapshotContext;
  /** There is a new snapshot, to be had from `current`. */
  onSnapshot: (current: () => Snapshot) => void;
}

export interface AssessFlow {
  start(): Promise<void>;
  /** Something of this project changed (`null`: outside projects). Cheap; may be called for every clip. */
  touch(volume: string, project: string | null): void;
  /** Something else than files changed. Cheap. */
  again(): void;
  /** There are other copies now. Cheap. */
  copiesChanged(): void;
  current(): Snapshot;
  /** What stands now, snoozed or not. */
  standing(): readonly StandingAdvisory[];
  /**
   * Puts in what a person said of advisories that stand, and looks again. False: it holds, but the ledger does not take it yet;
   * if it never does, it ends with the daemon.
   */
  say(snoozes: ReadonlyMap<string, Snooze>): Promise<boolean>;
  /** What the snapshot is made from. */
  assessment(): Assessment;
  /** A volume was measured. Resolves when that is kept. */
  measured(sample: SpeedSample): Promise<void>;
  /** Chance, 0..1, that these shoots fit on a volume, with all that comes besides; `null`: too little is known. */
  chanceToFit(volume: string, planned: readonly PlannedShoot[]): number | null;
  stop(): Promise<void>;
}

/** space > sums > multicam > speed > safety > rules > hysteresis > announce > snapshot; one pass at a time. */
export function createAssessFlow(deps: AssessDeps): AssessFlow {
  const names = deps.volumes.map(({ settings }) => settings.name);
  const space = createSpaceView(deps.volumes, deps.clock, deps.log);
  const looked = createLookedThrough(deps.catalogue, deps.volumes, deps.log);
  const footage = createFootageView({
    ...deps,
    isLookedThrough: looked.has,
    wanted: () => ({
      wanted: wantedCopies(deps.thresholds.wantedCopies, names, deps.backups().shelves, deps.backups().commands),
      readSince: readSince(deps.clock.now(), deps.readPeriodMs),
    }),
    volumes: new Set(names),
    found: passAgain,
  });
  const drives = createDriveView({ ...deps, volumes: names, changed: passAgain });
  const build = (volume: string) => buildOf(deps.volumes, volume, drives);
  const load = createLoadView({
    ...deps,
    volumes: names,
    gives: (volume) => seen.assessment.volumes.find(({ name }) => name === volume)?.speed.gives ?? null,
    build,
    changed: passAgain,
  });
  const samples = createSampleView(deps.ledger, build);
  const growth = createGrowthView({ ...deps, volumes: names, refused: deps.trouble.refused });
  const machine = createMachineView(deps.machine, deps.clock);
  const views = { space, footage, load, samples, drives, growth, machine, forecast: createForecastView(deps.draws) };
  let advice: AdviceState = NO_ADVICE;
  let stored = '';
  let isKept = true;
  let seen: Seen = nothingSeen(deps);
  let latest: Snapshot | null = null;
  let running: Promise<void> | null = null;
  let again = false;
  let cancel = () => {};
  let isBegun = false;
  let stopped = false;

  async function pass(): Promise<void> {
    const now = await look(deps, views, advice);
    const next = advise(advice, now.assessment, deps.thresholds, now.assessment.at);
    advice = next.state;
    await keepAdvice(next.announcements);
    for (const { event, advisory, reason } of next.announcements) {
      deps.log.debug({ advisory: advisory.id, event, reason }, 'announced');
      deps.notify.announce(event, advisory);
    }
    seen = now;
    latest = null;
    deps.onSnapshot(current);
  }

  /** Made when somebody asks: of many passes few are looked at. */
  function current(): Snapshot {
    const { assessment, arrivalTotals } = seen;
    latest ??= snapshot(assessment, raisedAdvisories(advice), { ...deps.context(), arrivalTotals });
    return latest;
  }

  /**
   * Before the announcements: a crash between loses a line of the log and repeats none. What channels are to be told is kept
   * along. A ledger that refuses must not silence what has to be said, the full disk itself among it. Whether it took it.
   */
  async function keepAdvice(announced: Advice['announcements']): Promise<boolean> {
    const messages = deps.channels.messagesOf(announced);
    const rows = storeAdvice(advice);
    const text = JSON.stringify(rows);
    isKept = text === stored;
    if (isKept && messages.length === 0) return true;
    try {
      await deps.ledger.putAdvisories(rows, messages);
      stored = text;
      isKept = true;
      if (messages.length > 0) deps.channels.kept();
      return true;
    } catch (error) {
      deps.trouble.refused(error);
      deps.channels.unkept(messages);
      isKept = false;
      return false;
    }
  }

  async function say(snoozes: ReadonlyMap<string, Snooze>): Promise<boolean> {
    advice = withSnoozes(advice, snoozes);
    // Both calls before anything else happens: what a pass has to say after this must not be taken back.
    const keeping = keepAdvice([]);
    const quiet = [...snoozes].flatMap(([id, snooze]) => (isSnoozed(snooze) ? [id] : []));
    await deps.channels.withdraw(quiet);
    const kept = await keeping;
    latest = null;
    passAgain();
    return kept;
  }

  function run(): Promise<void> {
    cancel();
    again = false;
    running = pass()
      .then(pauseMs, (error) => {
        deps.log.error({ error: messageOf(error) }, `Could not work out how things stand: ${messageOf(error)}`);
        return busyMs;
      })
      .then((pause) => {
        running = null;
        if (!stopped) plan(again ? gatherMs : pause);
      });
    return running;
  }

  /** Until the next pass, if nothing changes before. */
  function pauseMs(): number {
    const { arrivals, stateTrouble } = seen.assessment;
    const isMoving = arrivals.some(({ stage }) => stage !== 'stalled' && stage !== 'refused');
    const isBusy = isMoving || footage.isBehind() || stateTrouble !== null || !isKept;
    // A timer may be early by a moment, and would then be too early.
    const due = nextDue(advice, deps.thresholds) - deps.clock.now() + gatherMs;
    return Math.min(isBusy ? busyMs : idleMs, Math.max(gatherMs, due));
  }

  function plan(ms: number): void {
    cancel();
    cancel = deps.clock.after(ms, () => void run());
  }

  /** The first pass sees all that comes up before it: one before the state was read would keep that nothing was ever told. */
  function passAgain(): void {
    if (!isBegun) return;
    if (running !== null) again = true;
    else if (!again && !stopped) {
      again = true;
      plan(gatherMs);
    }
  }

  return {
    async start() {
      const restored = restoreAdvice(await deps.ledger.advisories());
      if (restored.dropped.length > 0)
        deps.log.warn(
          { dropped: restored.dropped },
          'Some stored advisories could not be read; they are raised anew if they still hold.',
        );
      advice = restored.state;
      await looked.start();
      await drives.start();
      await load.start();
      await samples.start();
      await growth.start();
      isBegun = true;
      await run();
    },
    touch(volume, project) {
      footage.touch(volume, project);
      passAgain();
    },
    again: passAgain,
    copiesChanged() {
      footage.touchCopies();
      passAgain();
    },
    current,
    standing: () => raisedAdvisories(advice),
    say,
    assessment: () => seen.assessment,
    async measured(sample) {
      await samples.add(sample);
      load.forgetLately(sample.volume);
      passAgain();
    },
    chanceToFit(volume, planned) {
      const { assessment } = seen;
      const capacity = assessment.volumes.find(({ name }) => name === volume)?.capacity ?? null;
      const until = Math.max(...planned.flatMap(({ days }) => days.map(({ toHour }) => toHour)));
      if (capacity === null || !Number.isFinite(until)) return null;
      const asked = { volume, at: assessment.at, capacity, growth: growth.of(volume), planned };
      return views.forecast.chanceToFit(asked, until);
    },
    async stop() {
      stopped = true;
      cancel();
      footage.stop();
      load.stop();
      drives.stop();
      await running;
    },
  };
}

/** What was learnt of a volume that was put together otherwise says nothing of how it is now. */
function buildOf(volumes: readonly VolumeSource[], name: string, drives: Pick<DriveView, 'of'>): string {
  const volume = volumes.find(({ settings }) => settings.name === name);
  const { detected } = drives.of(name);
  const seen =
    detected === null
      ? null
      : [detected.level, detected.members, detected.drives.map(({ serial, bytes }) => [serial, bytes])];
  return JSON.stringify([volume?.settings.path ?? null, volume?.settings.layout ?? null, seen]);
}
