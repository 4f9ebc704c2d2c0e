import type { MulticamGroup } from '../../core/assess/assessment.ts';
import type { ProjectSigns } from '../../core/assess/project-signs.ts';
import { messageOf } from '../../core/fault.ts';
import type { MulticamPort, SearchAnswer } from '../../core/multicam-port.ts';
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
  /** Grows whenever a search found signs. */
  found(): number;
  /** Searches in all projects that changed; those that were searched lately come later. Never rejects. */
  search(): Promise<void>;
  /** Something changed that is still to be searched. */
  isBehind(): boolean;
  stop(): void;
}

export function createMulticamView({ multicam, clock, log }: MulticamDeps): MulticamView {
  const known = new Map<string, ToldGroups>();
  /** Projects of which all that was told is known here. */
  const synced = new Set<string>();
  const signs = new Map<string, ProjectSigns>();
  const changed = new Map<string, Place>();
  /** When each project may be searched again, in ticks. */
  const restsUntil = new Map<string, number>();
  let found = 0;
  let searching: Promise<void> | null = null;
  let stopped = false;

  /** Ends when the project is through; others get their turn between the steps. */
  async function searchOne(key: string, { volume, project }: Place): Promise<void> {
    let isKnown = synced.has(key);
    // Should it fail between two parts, all is asked for anew.
    synced.delete(key);
    const parts: SearchAnswer[] = [];
    for (;;) {
      const answer = await multicam.step(volume, project, isKnown);
      if (stopped) return;
      isKnown = true;
      if (answer.signs !== null) {
        signs.set(key, answer.signs);
        found += 1;
      }
      parts.push(answer);
      if (answer.step === 'part' || answer.step === 'more') continue;
      known.set(key, parts.splice(0).reduce(withPart, known.get(key) ?? NOTHING_TOLD));
      if (answer.step === 'found' || answer.step === 'current') break;
    }
    synced.add(key);
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
      const told = known.get(keyOf(volume, project)) ?? null;
      if (told === null) touch(volume, project);
      return told?.all ?? null;
    },
    found: () => found,
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

/** The groups of a project, by session; and all of them. */
interface ToldGroups {
  bySession: ReadonlyMap<number, MulticamGroup[]>;
  all: MulticamGroup[];
}

const NOTHING_TOLD: ToldGroups = { bySession: new Map(), all: [] };

function withPart(told: ToldGroups, { anew, sessions, gone }: SearchAnswer): ToldGroups {
  if (!anew && sessions.length === 0 && gone.length === 0) return told;
  const bySession = new Map(anew ? [] : told.bySession);
  for (const session of gone) bySession.delete(session);
  for (const { session, groups } of sessions) {
    if (groups.length === 0) bySession.delete(session);
    else bySession.set(session, groups);
  }
  return { bySession, all: [...bySession.values()].flat() };
}

function keyOf(volume: string, project: string): string {
  return `${volume}\n${project}`;
}
