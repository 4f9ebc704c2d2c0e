import type { DatabaseSync } from 'node:sqlite';
import { AngleSessions } from '../../core/assess/angle-sessions.ts';
import type { MulticamGroup } from '../../core/assess/assessment.ts';
import { withProxies } from '../../core/assess/group-proxies.ts';
import { type ProjectSigns, type SignClip, signsOf } from '../../core/assess/project-signs.ts';
import type { SearchAnswer } from '../../core/multicam-port.ts';
import { type ClipCursor, openAngleClips } from './angle-clips.ts';

/** Clips read in one call: some 20 ms of the worker's time. */
const SLICE = 2000;

/** What was read of a project is held for so long after it was asked for last, and of so many clips at most, in all. */
const HELD_MS = 60_000;
const MOST_HELD = 150_000;

/** `MulticamPort.step`. Each call is short: others get their turn in between. */
type Step = (volume: string, project: string, known: boolean) => SearchAnswer;

/** The clips of a project as they were read, and the groups among them. */
interface Held {
  volume: string;
  project: string;
  clips: Map<string, SignClip>;
  sessions: AngleSessions;
  /** How often the project had changed when it was read; `null`: reading is under way. */
  changes: number | null;
  /** Of the reading under way: what it began with, and where it goes on. */
  began: number;
  after: ClipCursor;
  /** What has been told of the groups since; signs come last. */
  told: 'nothing' | 'groups' | 'all';
}

/** What is kept of a search. */
interface Findings {
  groups: MulticamGroup[];
  signs: ProjectSigns;
}

const NOTHING = { groups: [], signs: null };

export interface SearchOptions {
  slice?: number;
  heldMs?: number;
}

/**
 * Searches for multicam groups: once through all clips of a project, then only what came and went since. What was read is held for a
 * while; after that, and after a restart, the next change has all clips read again.
 */
export function openMulticamSearch(
  database: DatabaseSync,
  { slice = SLICE, heldMs = HELD_MS }: SearchOptions = {},
): Step {
  const clips = openAngleClips(database, slice);
  const kept = openKept(database);
  const touched = openTouched(database);
  const held = new Map<string, Held>();
  let letGo: NodeJS.Timeout | null = null;

  function hold(volume: string, project: string): Held {
    const key = JSON.stringify([volume, project]);
    const fresh: Held = {
      ...{ volume, project, clips: new Map(), sessions: new AngleSessions(), changes: null },
      ...{ began: kept.changes(volume, project), told: 'nothing' },
      after: { readyAt: Number.MIN_SAFE_INTEGER, id: 0 },
    };
    held.set(key, fresh);
    // What is touched from now on is read again; what was before is read anyway.
    touched.watch(volume, project);
    return fresh;
  }

  function release(key: string): void {
    const one = held.get(key);
    held.delete(key);
    if (one !== undefined) touched.unwatch(one.volume, one.project);
  }

  /** The one that was used last comes last; those used first go when it is too much. */
  function use(one: Held): void {
    const key = JSON.stringify([one.volume, one.project]);
    held.delete(key);
    held.set(key, one);
    let clipsHeld = [...held.values()].reduce((sum, { clips }) => sum + clips.size, 0);
    for (const [first, { clips }] of held) {
      if (clipsHeld <= MOST_HELD || first === key) break;
      release(first);
      clipsHeld -= clips.size;
    }
    if (letGo !== null) clearTimeout(letGo);
    letGo = setTimeout(() => [...held.keys()].forEach(release), heldMs).unref();
  }

  function put(one: Held, clip: SignClip): void {
    one.clips.set(clip.unit, clip);
    one.sessions.put(clip);
  }

  function readMore(one: Held): SearchAnswer {
    const part = clips.next(one.volume, one.project, one.after);
    for (const clip of part.clips) put(one, clip);
    if (part.after === null) one.changes = one.began;
    else one.after = part.after;
    return { step: 'more', ...NOTHING };
  }

  function readTouched(one: Held, changes: number): void {
    for (const unit of touched.take(one.volume, one.project)) {
      const clip = clips.one(one.volume, one.project, unit);
      if (clip !== null) put(one, clip);
      else {
        one.clips.delete(unit);
        one.sessions.remove(unit);
      }
    }
    one.changes = changes;
    one.told = 'nothing';
  }

  function tell(one: Held): SearchAnswer {
    const groups = withProxies(one.sessions.groups(), one.clips.values(), one.project);
    if (one.told === 'nothing') {
      one.told = 'groups';
      return { step: 'groups', groups, signs: null };
    }
    const signs = signsOf([...one.clips.values()], one);
    kept.put(one.volume, one.project, one.changes ?? 0, { groups, signs });
    one.told = 'all';
    return { step: 'found', groups, signs };
  }

  return (volume, project, known) => {
    const changes = kept.changes(volume, project);
    const one = held.get(JSON.stringify([volume, project])) ?? null;
    if (one === null) {
      const earlier = kept.get(volume, project);
      const told = earlier === null || known ? NOTHING : earlier.findings;
      if (earlier?.changes === changes) return { step: 'current', ...told };
      const begun = hold(volume, project);
      use(begun);
      return earlier === null || known ? readMore(begun) : { step: 'earlier', ...told };
    }
    use(one);
    if (one.changes === null) return readMore(one);
    if (one.changes !== changes) readTouched(one, changes);
    if (one.told !== 'all') return tell(one);
    return { step: 'current', ...(known ? NOTHING : (kept.get(volume, project)?.findings ?? NOTHING)) };
  };
}

/** What searches found, kept over restarts, and how often each project has changed. */
function openKept(database: DatabaseSync) {
  const changesOf = database.prepare('SELECT changes FROM clip_change WHERE volume = ? AND project = ?');
  const get = database.prepare('SELECT changes, json FROM multicam WHERE volume = ? AND project = ?');
  const put = database.prepare(`
    INSERT INTO multicam VALUES (?, ?, ?, ?)
    ON CONFLICT DO UPDATE SET changes = excluded.changes, json = excluded.json`);
  return {
    changes: (volume: string, project: string) => Number(changesOf.get(volume, project)?.['changes'] ?? 0),
    get(volume: string, project: string): { changes: number; findings: Findings } | null {
      const row = get.get(volume, project);
      return row === undefined
        ? null
        : { changes: Number(row['changes']), findings: JSON.parse(String(row['json'])) as Findings };
    },
    put(volume: string, project: string, changes: number, findings: Findings): void {
      put.run(volume, project, changes, JSON.stringify(findings));
    },
  };
}

/** Units whose clips came, went or changed since they were taken last, of projects that are watched. */
function openTouched(database: DatabaseSync) {
  database.exec('DELETE FROM clip_touched; DELETE FROM clip_watched');
  const all = database.prepare('SELECT unit FROM clip_touched WHERE volume = ? AND project = ?');
  const clear = database.prepare('DELETE FROM clip_touched WHERE volume = ? AND project = ?');
  const watch = database.prepare('INSERT OR IGNORE INTO clip_watched VALUES (?, ?)');
  const unwatch = database.prepare('DELETE FROM clip_watched WHERE volume = ? AND project = ?');
  return {
    take(volume: string, project: string): string[] {
      const units = all.all(volume, project).map((row) => String(row['unit']));
      if (units.length > 0) clear.run(volume, project);
      return units;
    },
    watch(volume: string, project: string): void {
      clear.run(volume, project);
      watch.run(volume, project);
    },
    unwatch(volume: string, project: string): void {
      unwatch.run(volume, project);
      clear.run(volume, project);
    },
  };
}
