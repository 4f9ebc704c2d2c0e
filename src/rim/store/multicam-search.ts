import type { DatabaseSync } from 'node:sqlite';
import type { ProjectPlace } from '../../core/assess/project-signs.ts';
import type { SearchAnswer } from '../../core/multicam-port.ts';
import { openAngleClips } from './angle-clips.ts';
import { HeldProject } from './held-project.ts';
import { openKeptGroups } from './kept-groups.ts';
import { openTouched } from './touched.ts';

/** Clips read in one call, and what is told of in one: each some 20 ms of the worker's time. */
const SLICE = 2000;
const TOLD = 250;

/** What was read of a project is held for so long after it was asked for last, and of so many clips at most, in all. */
const HELD_MS = 60_000;
const MOST_HELD = 150_000;

/** `MulticamPort.step`. Each call is short: others get their turn in between. */
type Step = (volume: string, project: string, known: boolean) => SearchAnswer;

export interface SearchOptions {
  slice?: number;
  told?: number;
  heldMs?: number;
}

/**
 * Searches for multicam groups: once through all clips of a project, then only what came and went since. What was read is held for a
 * while; after that, and after a restart, the next change has all clips read again.
 */
export function openMulticamSearch(
  database: DatabaseSync,
  { slice = SLICE, told = TOLD, heldMs = HELD_MS }: SearchOptions = {},
): Step {
  const kept = openKeptGroups(database);
  const deps = { clips: openAngleClips(database, slice), kept, touched: openTouched(database), slice, told };
  const held = new Map<string, HeldProject>();
  /** Of projects whose kept groups are being told: the last session that was. */
  const telling = new Map<string, number>();
  let letGo: NodeJS.Timeout | null = null;

  function release(key: string): void {
    held.get(key)?.release();
    held.delete(key);
  }

  /** With the database everything that was held of it is gone. */
  function letAllGo(): void {
    if (database.isOpen) for (const key of [...held.keys()]) release(key);
  }

  /** The one that was used last comes last; those used first go when it is too much. */
  function use(key: string, one: HeldProject): void {
    held.delete(key);
    held.set(key, one);
    let clipsHeld = [...held.values()].reduce((sum, { size }) => sum + size, 0);
    for (const [first, { size }] of held) {
      if (clipsHeld <= MOST_HELD || first === key) break;
      release(first);
      clipsHeld -= size;
    }
    if (letGo !== null) clearTimeout(letGo);
    letGo = setTimeout(letAllGo, heldMs).unref();
  }

  /** What is kept, a slice at a time; `null`: nothing is, or all was told. */
  function tellKept(key: string, place: ProjectPlace): SearchAnswer | null {
    const head = kept.head(place);
    if (head === null) return null;
    const after = telling.get(key) ?? null;
    const sessions = kept.sessions(place, after ?? Number.MIN_SAFE_INTEGER, told);
    const answer = { sessions, gone: [], anew: after === null };
    const last = sessions.length === told ? sessions.at(-1) : undefined;
    if (last !== undefined) {
      telling.set(key, last.session);
      return { ...answer, step: 'part', signs: null };
    }
    telling.delete(key);
    const isCurrent = head.changes === kept.changes(place);
    return { ...answer, step: isCurrent ? 'current' : 'earlier', signs: head.signs };
  }

  return (volume, project, known) => {
    const place = { volume, project };
    const key = JSON.stringify([volume, project]);
    const one = held.get(key) ?? null;
    if (one === null) {
      if (!known) telling.delete(key);
      const answer = !known || telling.has(key) ? tellKept(key, place) : null;
      if (answer !== null) return answer;
      if (known && kept.head(place)?.changes === kept.changes(place)) {
        return { step: 'current', sessions: [], gone: [], anew: false, signs: null };
      }
    }
    const searched = one ?? new HeldProject(place, deps);
    use(key, searched);
    return searched.step(kept.changes(place), known);
  };
}
