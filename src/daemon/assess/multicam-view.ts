import type { MulticamGroup } from '../../core/assess/assessment.ts';
import type { ProjectSigns } from '../../core/assess/project-signs.ts';
import { messageOf } from '../../core/fault.ts';
import type { MulticamPort } from '../../core/multicam-port.ts';
import type { Clock, Log } from '../../core/ports.ts';

/** A search takes at most this share of the time: while clips keep coming to a large project, earlier groups are shown. */
const share = 0.05;

/** A search that failed is tried again after this long. */
const retryMs = 5_000;

export interface MulticamDeps {
  multicam: MulticamPort;
  clock: Clock;
  log: Log;
}

interface Place {
  volume: string;
  project: string;
}

/** The multicam groups of every project. A large project's search takes seconds, nobody waits for it. */
export interface MulticamView {
  /** The clips of this project may have changed. */
  touch(volume: string, project: string): void;
  /** `null`: not searched for yet, which is begun by asking. */
  groups(volume: string, project: string): MulticamGroup[] | null;
  /** What else its clips show, as the last search that is through found it; `null`: not searched yet. */
  signs(volume: string, project: string): ProjectSigns | null;
  /** Searches in all projects that changed; those that were searched lately come later. Never rejects. */
  search(): Promise<void>;
  /** Something changed that is still to be searched. */
  isBehind(): boolean;
  stop(): void;
}

export function createMulticamView({ multicam, clock, log }: MulticamDeps): MulticamView {
  const known = new Map<string, MulticamGroup[]>();
  const signs = new Map<string, ProjectSigns>();
  const changed = new Map<string, Place>();
  /** When each project may be searched again, in ticks. */
  const restsUntil = new Map<string, number>();
  let searching: Promise<void> | null = null;
  let stopped = false;

  /** Ends when the project is through; others get their turn between the steps. */
  async function searchOne(key: string, { volume, project }: Place): Promise<void> {
    for (;;) {
      const isKnown = known.has(key);
      const { step, groups, signs: shown } = await multicam.step(volume, project, isKnown);
      if (stopped) return;
      if (shown !== null) signs.set(key, shown);
      if (step === 'found' || step === 'groups' || step === 'earlier' || (step === 'current' && !isKnown))
        known.set(key, groups);
      if (step === 'found' || step === 'current') return;
    }
  }

  async function searchAll(): Promise<void> {
    const isDue = ([key]: [string, Place]) => clock.ticks() >= (restsUntil.get(key) ?? 0);
    for (
      let next = changed.entries().find(isDue);
      next !== undefined && !stopped;
      next = changed.entries().find(isDue)
    ) {
      const [key, place] = next;
      const began = clock.ticks();
      changed.delete(key);
      try {
        await searchOne(key, place);
        restsUntil.set(key, clock.ticks() + (clock.ticks() - began) / share);
      } catch (error) {
        log.debug({ ...place, error: messageOf(error) }, 'multicam groups not searched, tried again');
        changed.set(key, place);
        restsUntil.set(key, clock.ticks() + retryMs);
      }
    }
  }

  function touch(volume: string, project: string): void {
    changed.set(keyOf(volume, project), { volume, project });
  }

  return {
    touch,
    groups(volume, project) {
      const found = known.get(keyOf(volume, project)) ?? null;
      if (found === null) touch(volume, project);
      return found;
    },
    signs: (volume, project) => signs.get(keyOf(volume, project)) ?? null,
    search() {
      searching ??= searchAll().finally(() => {
        searching = null;
      });
      return searching;
    },
    isBehind: () => changed.size > 0,
    stop() {
      stopped = true;
    },
  };
}

function keyOf(volume: string, project: string): string {
  return `${volume}\n${project}`;
}
