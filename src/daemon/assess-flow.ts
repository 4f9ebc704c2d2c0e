import { restoreAdvice, storeAdvice } from '../core/advise/advice-store.ts';
import type { AdviceState } from '../core/advise/advise.ts';
import { advise, NO_ADVICE, raisedAdvisories } from '../core/advise/advise.ts';
import type { Assessment } from '../core/assess/assessment.ts';
import { messageOf } from '../core/fault.ts';
import type { CataloguePort, Clock, LedgerPort, Log, NotifyPort } from '../core/ports.ts';
import { type Snapshot, type SnapshotContext, snapshot } from '../core/present/snapshot.ts';
import type { ThresholdSettings } from '../settings/settings.ts';
import { createFootageView, type FootageView } from './footage-view.ts';
import { createSpaceView, type SpaceView } from './space-view.ts';
import type { StoreTrouble } from './store-trouble.ts';
import { assessVolumes, type VolumeSource } from './volume-source.ts';

/** The whole is looked at again this often, besides after every change: room and hold times move by themselves. */
const everyMs = 5_000;

/** Changes are gathered for this long, so that a burst costs one pass. */
const gatherMs = 250;

export interface AssessDeps {
  volumes: readonly VolumeSource[];
  catalogue: CataloguePort;
  ledger: LedgerPort;
  trouble: StoreTrouble;
  notify: NotifyPort;
  clock: Clock;
  log: Log;
  thresholds: ThresholdSettings;
  context: () => SnapshotContext;
  /** Called with every new snapshot. */
  onSnapshot: (snapshot: Snapshot) => void;
}

export interface AssessFlow {
  start(): Promise<void>;
  /** Something of this project changed (`null`: outside projects). Cheap; may be called for every clip. */
  touch(volume: string, project: string | null): void;
  current(): Snapshot;
  stop(): Promise<void>;
}

/** space > sums > multicam > speed > safety > rules > hysteresis > announce > snapshot; one pass at a time. */
export function createAssessFlow(deps: AssessDeps): AssessFlow {
  const space = createSpaceView(deps.volumes, deps.clock, deps.log);
  const footage = createFootageView(
    deps.catalogue,
    deps.thresholds.wantedCopies,
    new Set(deps.volumes.map(({ settings }) => settings.name)),
  );
  let advice: AdviceState = NO_ADVICE;
  let stored = '';
  let latest = snapshot(emptyAssessment(deps), [], deps.context());
  let running: Promise<void> | null = null;
  let again = false;
  let cancel = () => {};
  let stopped = false;

  async function pass(): Promise<void> {
    const assessment = await look(deps, space, footage);
    const next = advise(advice, assessment, deps.thresholds, assessment.at);
    advice = next.state;
    await keepAdvice();
    for (const { event, advisory, reason } of next.announcements) {
      deps.log.debug({ advisory: advisory.id, event, reason }, 'announced');
      deps.notify.announce(event, advisory);
    }
    latest = snapshot(assessment, raisedAdvisories(advice), deps.context());
    deps.onSnapshot(latest);
  }

  /**
   * Before the announcements: a crash between loses one and repeats none. A ledger that refuses must not silence what has
   * to be said, the full disk itself among it.
   */
  async function keepAdvice(): Promise<void> {
    const rows = storeAdvice(advice);
    const text = JSON.stringify(rows);
    if (text === stored) return;
    try {
      await deps.ledger.putAdvisories(rows);
      stored = text;
    } catch (error) {
      deps.trouble.refused(error);
    }
  }

  function run(): Promise<void> {
    cancel();
    again = false;
    running = pass()
      .catch((error) =>
        deps.log.error({ error: messageOf(error) }, `Could not work out how things stand: ${messageOf(error)}`),
      )
      .finally(() => {
        running = null;
        if (!stopped) plan(again ? gatherMs : everyMs);
      });
    return running;
  }

  function plan(ms: number): void {
    cancel();
    cancel = deps.clock.after(ms, () => void run());
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
      await run();
    },
    touch(volume, project) {
      footage.touch(volume, project);
      if (running !== null) again = true;
      else if (!again && !stopped) {
        again = true;
        plan(gatherMs);
      }
    },
    current: () => latest,
    async stop() {
      stopped = true;
      cancel();
      await running;
    },
  };
}

async function look(deps: AssessDeps, space: SpaceView, footage: FootageView): Promise<Assessment> {
  const [rooms, known] = [await space.measure(), await footage.read()];
  return {
    at: deps.clock.now(),
    volumes: assessVolumes(deps.volumes, rooms, known),
    projects: known.projects,
    arrivals: deps.volumes.flatMap((volume) => volume.arrivals()),
    stateTrouble: deps.trouble.current(),
  };
}

function emptyAssessment(deps: AssessDeps): Assessment {
  return {
    at: deps.clock.now(),
    volumes: assessVolumes(deps.volumes, new Map(), { projects: [], newest: new Map() }),
    projects: [],
    arrivals: [],
    stateTrouble: null,
  };
}
