import type { DrivePort } from '../core/drive-port.ts';
import { healthAnswer, type LoopHealth, loopsHealth, readinessAnswer } from '../core/health.ts';
import type { LoadPort } from '../core/load-port.ts';
import { PROBE_ENDS, type ProbeEnd, type ProbeFigures } from '../core/metrics/daemon-families.ts';
import { metricsAnswer } from '../core/metrics/metrics.ts';
import { display } from '../core/present/escape.ts';
import type { Snapshot } from '../core/present/snapshot.ts';
import type { RootPort, RootState } from '../core/root-port.ts';
import { systemClock } from '../rim/system/clock.ts';
import { createProcessWatch } from '../rim/system/process-figures.ts';
import type { MonitorSource } from '../rim/web/monitor-routes.ts';
import type { DueWatch } from './backup/due-watch.ts';
import { type BeatMark, createLoopMarks, type LineMark, type LoopKind } from './loop-marks.ts';
import { watchedRoot } from './watched-root.ts';

/** What is told of the daemon itself, gathered where its parts are joined. */
export interface Monitor {
  /** What each loop touches; those of one kind only that is there at all. */
  store: LineMark;
  cardsLooked: BeatMark;
  backupsAsked: BeatMark;
  shelvesLooked: BeatMark;
  channel(name: string): LineMark;
  /** Hears of each assessment, and hands it on. */
  assessed<Told>(next: (told: Told) => void): (told: Told) => void;
  /** The same ports; that they are asked is noted. */
  speed<Ports extends { load: LoadPort; drives: DrivePort }>(ports: Ports): Ports;
  volume(name: string): {
    /** Its process gave a sign of life. */
    heard: () => void;
    intake: LineMark;
    root: (root: RootPort) => RootPort;
  };
  loops: () => LoopHealth[];
  source(parts: MonitorParts): MonitorSource;
  close(): void;
}

export interface MonitorParts {
  zone: string;
  snapshot: () => Snapshot;
  successes: DueWatch['successes'];
  volumes: () => { name: string; state: RootState }[];
}

const SECOND = 1000;
const MINUTE = 60 * SECOND;

/**
 * How often each loop moves while it is well, with some room: a machine under load is late. A process that does not answer for
 * ten seconds is given up; what is being read or kept may be long.
 */
const KINDS = {
  store: { loop: 'state', patienceMs: 5 * MINUTE },
  assess: { loop: 'assessment', patienceMs: 5 * MINUTE },
  cards: { loop: 'card-watch', patienceMs: 30 * SECOND },
  load: { loop: 'drive-load', patienceMs: MINUTE },
  drives: { loop: 'drive-layout', patienceMs: 10 * MINUTE },
  asked: { loop: 'backup-due', patienceMs: 10 * MINUTE },
  shelves: { loop: 'shelf-watch', patienceMs: 20 * MINUTE },
  channel: { loop: 'channel', patienceMs: 5 * MINUTE, isOutside: true },
  root: { loop: 'volume-process', patienceMs: 10 * SECOND, isOutside: true },
  intake: { loop: 'intake', patienceMs: 5 * MINUTE },
  probes: { loop: 'clip-reading', patienceMs: 5 * MINUTE, isOutside: true },
} satisfies Record<string, LoopKind>;

/** `watchesDelay`: how late the event loop is costs a little, and is told in metrics alone. */
export function composeMonitor(watchesDelay: boolean): Monitor {
  const marks = createLoopMarks(systemClock);
  const own = createProcessWatch(systemClock, watchesDelay);
  const probes: ProbeFigures[] = [];
  const loops = () => loopsHealth(marks.all(), { ticks: systemClock.ticks(), now: systemClock.now() });

  const assessment = marks.beat(KINDS.assess);

  /** There from when it moves first: what is switched off never does. */
  function later(kind: LoopKind): BeatMark {
    let mark: BeatMark | null = null;
    return {
      moved() {
        mark ??= marks.beat(kind);
        mark.moved();
      },
    };
  }

  return {
    store: marks.line(KINDS.store),
    cardsLooked: later(KINDS.cards),
    backupsAsked: later(KINDS.asked),
    shelvesLooked: later(KINDS.shelves),
    channel: (name) => marks.line({ ...KINDS.channel, of: name }),
    assessed: (next) => (told) => {
      assessment.moved();
      next(told);
    },
    speed: (ports) => ({ ...ports, ...watchedSpeed(ports, later(KINDS.load), later(KINDS.drives)) }),
    volume(name) {
      const alive = later({ ...KINDS.root, of: name });
      const tally = newTally(name);
      probes.push(tally.figures);
      let isHung = false;
      const watcher = {
        ...{ started: alive.moved, probed: tally.add, clock: systemClock },
        told(state: RootState) {
          // One that is sent after a mount that hangs says something as well, before it hangs too.
          isHung = state === 'hung' || (isHung && state === 'starting');
        },
        probes: marks.line({ ...KINDS.probes, of: name }),
      };
      return {
        heard() {
          if (!isHung) alive.moved();
        },
        intake: marks.line({ ...KINDS.intake, of: name }),
        root: (root) => watchedRoot(root, watcher),
      };
    },
    loops,
    source: ({ zone, snapshot, successes, volumes }) => ({
      metrics: (accept) =>
        metricsAnswer(
          {
            ...{ snapshot: snapshot(), process: own.figures(), probes },
            loops: loops().map((loop) => ({ ...loop, of: loop.of === null ? null : display(loop.of) })),
            successes: successes().map(({ volume, shelf, at }) => ({
              ...{ volume: display(volume), shelf: display(shelf), at: at / 1000 },
            })),
          },
          accept,
        ),
      health: () => healthAnswer(loops(), systemClock.now(), zone),
      readiness: () => readinessAnswer(volumes()),
    }),
    close: own.close,
  };
}

function watchedSpeed(
  { load, drives }: { load: LoadPort; drives: DrivePort },
  asked: BeatMark,
  looked: BeatMark,
): { load: LoadPort; drives: DrivePort } {
  return {
    load: {
      ...load,
      counters(volumes) {
        asked.moved();
        return load.counters(volumes);
      },
    },
    drives: {
      ...drives,
      stack(volume) {
        looked.moved();
        return drives.stack(volume);
      },
    },
  };
}

/** Counts readings of clips as they end. */
function newTally(volume: string): { figures: ProbeFigures; add: (end: ProbeEnd, seconds: number) => void } {
  const ends = Object.fromEntries(PROBE_ENDS.map((end) => [end, 0])) as Record<ProbeEnd, number>;
  const figures = { volume: display(volume), ends, seconds: 0 };
  return {
    figures,
    add(end, seconds) {
      ends[end] += 1;
      figures.seconds += seconds;
    },
  };
}
