import {
  evidenceOf,
  isSaturated,
  type LoadSample,
  lately,
  loadBetween,
  type VolumeCounters,
} from '../../core/assess/disk-load.ts';
import { type LoadWatch, NOTHING_WATCHED, watchLoad } from '../../core/assess/load-watch.ts';
import { type DayPeak, peakEvidence, withPeak } from '../../core/assess/peaks.ts';
import type { RateEvidence } from '../../core/assess/speed-belief.ts';
import type { VolumeGives } from '../../core/assess/volume-speed.ts';
import { messageOf } from '../../core/fault.ts';
import type { LoadPort } from '../../core/load-port.ts';
import type { PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { CataloguePort } from '../../core/store-ports.ts';

/** The drives are looked at so often. */
const SAMPLE_MS = 10_000;

export interface LoadDeps {
  volumes: readonly string[];
  load: LoadPort;
  catalogue: Pick<CataloguePort, 'recall' | 'remember'>;
  clock: Clock;
  log: Log;
  /** What the volume was last believed to give; `null`: not known. */
  gives: (volume: string) => VolumeGives | null;
  /** How the volume is put together, in one word that is another after every change: what was seen before is forgotten then. */
  build: (volume: string) => string;
  /** Something began or ended that is worth a pass. */
  changed: () => void;
}

/** What is known of one volume's load. */
export interface VolumeLoad {
  /** The last sample; `null`: none yet, or nothing is told of its drives. */
  sample: LoadSample | null;
  /** The same, smoothed over a minute. */
  lately: LoadSample | null;
  watch: LoadWatch;
  /** Files that are being read, by path. */
  beingRead: ReadonlySet<PathText>;
  seen: { read: RateEvidence[]; write: RateEvidence[] };
}

export interface LoadView {
  start(): Promise<void>;
  of(volume: string): VolumeLoad;
  /** What went on lately was a measurement, and is over: it is nobody's work. */
  forgetLately(volume: string): void;
  stop(): void;
}

const NOTHING_READ: ReadonlySet<PathText> = new Set();

interface Kept {
  build: string;
  peaks: readonly DayPeak[];
}

interface Watched extends Kept {
  before: VolumeCounters | null;
  sample: LoadSample | null;
  lately: LoadSample | null;
  watch: LoadWatch;
}

/** Looks at the drives in even steps, and learns from what they do how fast they are. */
export function createLoadView({ volumes, load, catalogue, clock, log, gives, build, changed }: LoadDeps): LoadView {
  const watched = new Map<string, Watched>();
  let reading: ReadonlyMap<string, ReadonlySet<PathText>> = new Map();
  let cancel = () => {};
  let stopped = false;

  function look(): void {
    for (const [volume, counters] of load.counters(volumes)) {
      const known = watched.get(volume);
      if (known !== undefined) lookAt(volume, known, counters);
    }
    void load.beingRead().then((now) => {
      const moved = [...now].some(([volume, paths]) => !sameSet(paths, reading.get(volume)));
      reading = now;
      if (moved) changed();
    });
    if (!stopped) cancel = clock.after(SAMPLE_MS, look);
  }

  function lookAt(volume: string, known: Watched, counters: VolumeCounters | null): void {
    forgetOtherBuild(volume, known);
    const { before } = known;
    known.before = counters;
    known.sample = before === null || counters === null ? null : loadBetween(before, counters);
    known.lately = known.sample === null ? null : lately(known.lately, known.sample);
    if (known.sample === null) return;
    learn(volume, known, known.sample);
    const given = gives(volume);
    if (given === null) return;
    const wasHigh = known.watch.isHigh;
    known.watch = watchLoad(known.watch, shareOf(known.sample, given), known.sample.seconds);
    if (known.watch.isHigh !== wasHigh) changed();
  }

  function forgetOtherBuild(volume: string, known: Watched): void {
    const now = build(volume);
    if (now === known.build) return;
    Object.assign(known, { build: now, peaks: [], before: null, lately: null, watch: NOTHING_WATCHED });
  }

  function learn(volume: string, known: Watched, sample: LoadSample): void {
    const isFull = isSaturated(sample, gives(volume)?.drive ?? null);
    const peaks = withPeak(known.peaks, clock.now(), evidenceOf(sample, isFull, clock.now()));
    if (peaks === known.peaks) return;
    known.peaks = peaks;
    const kept: Kept = { build: known.build, peaks };
    catalogue
      .remember(keyOf(volume), JSON.stringify(kept))
      .catch((error) => log.debug({ volume, error: messageOf(error) }, 'peaks not kept'));
  }

  return {
    async start() {
      for (const volume of volumes) {
        const now = build(volume);
        const kept = keptOf(await catalogue.recall(keyOf(volume)).catch(() => null));
        const peaks = kept?.build === now ? kept.peaks : [];
        watched.set(volume, { build: now, peaks, before: null, sample: null, lately: null, watch: NOTHING_WATCHED });
      }
      look();
    },
    of(volume) {
      const known = watched.get(volume);
      return {
        sample: known?.sample ?? null,
        lately: known?.lately ?? null,
        watch: known?.watch ?? NOTHING_WATCHED,
        beingRead: reading.get(volume) ?? NOTHING_READ,
        seen: peakEvidence(known?.peaks ?? [], clock.now()),
      };
    },
    forgetLately(volume) {
      const known = watched.get(volume);
      if (known !== undefined)
        Object.assign(known, { before: null, sample: null, lately: null, watch: NOTHING_WATCHED });
    },
    stop() {
      stopped = true;
      cancel();
    },
  };
}

/** Reading and writing share the drives' time. */
function shareOf({ readBps, writeBps }: LoadSample, gives: VolumeGives): number {
  return readBps / gives.read.likely + writeBps / gives.write.likely;
}

function keptOf(text: string | null): Kept | null {
  try {
    return text === null ? null : (JSON.parse(text) as Kept);
  } catch {
    return null;
  }
}

function sameSet(one: ReadonlySet<PathText>, other: ReadonlySet<PathText> = NOTHING_READ): boolean {
  return one.size === other.size && one.isSubsetOf(other);
}

function keyOf(volume: string): string {
  return `peaks:${volume}`;
}
