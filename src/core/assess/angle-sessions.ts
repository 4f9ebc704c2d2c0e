import type { MulticamGroup } from './assessment.ts';
import { type AngleClip, DAY, type TimedClip, timedClip } from './clip-times.ts';
import { findMulticam } from './multicam.ts';
import { type ClipSpan, spansOfTimed } from './spans.ts';

/**
 * Clips further apart than this are never compared: a night lies between them, or at least a meal. Cameras whose clocks are two hours
 * apart are still in one.
 */
const GAP = 4 * 3600;

/** Clips that lie so near each other in time that they may be one scene; and the groups among them. */
interface Session {
  /** By which it is told of: kept while it goes on. */
  id: number;
  start: number;
  end: number;
  clips: Map<string, Anchored>;
  groups: MulticamGroup[] | null;
}

/** Sessions whose groups are to be told anew, by number, and those that are no more. */
export interface ChangedSessions {
  sessions: { session: number; groups: MulticamGroup[] }[];
  gone: number[];
  /** There are more. */
  more: boolean;
}

/** Where a clip is put before its camera's clock is looked at. */
interface Anchored {
  timed: TimedClip;
  start: number;
  end: number;
}

/**
 * The angles of one project. Groups are found in each session by itself, so a clip that comes or goes costs its session and nothing
 * else; the result is the same whatever the order in which clips came. Clips of which no day is known are one session together.
 */
export class AngleSessions {
  /** In order of time; no two nearer than `GAP`. */
  #dated: Session[] = [];
  #undated = emptySession(0);
  #lastId = 0;
  readonly #changed = new Map<number, Session>();
  readonly #gone = new Set<number>();
  readonly #placed = new Map<string, Anchored>();
  readonly #zone = new ZoneGuess();
  #zoneUsed = 0;

  /** A clip is there, or is another one now. */
  put(clip: AngleClip): void {
    this.remove(clip.unit);
    const timed = timedClip(clip);
    if (timed === null) return;
    this.#zone.add(timed, 1);
    this.#place(timed);
  }

  remove(unit: string): void {
    const placed = this.#placed.get(unit);
    if (placed === undefined) return;
    this.#placed.delete(unit);
    this.#zone.add(placed.timed, -1);
    if (placed.timed.wall === null) this.#note(drop(this.#undated, unit));
    else this.#takeOut(unit, placed);
  }

  /** What is told of this clip's session besides its angles may be another. */
  touch(unit: string): void {
    const placed = this.#placed.get(unit);
    if (placed === undefined) return;
    const session = placed.timed.wall === null ? this.#undated : this.#dated[this.#indexOf(placed)];
    if (session !== undefined) this.#note(session);
  }

  touchAll(): void {
    for (const session of [...this.#dated, this.#undated]) this.#note(session);
  }

  /** Sessions that changed since they were told here last, of about `most` clips. */
  nextChanged(most: number): ChangedSessions {
    if (this.#zone.seconds !== this.#zoneUsed) this.#placeAgain();
    const told: ChangedSessions = { sessions: [], gone: [...this.#gone], more: false };
    this.#gone.clear();
    let clips = 0;
    for (const [session, one] of this.#changed) {
      if (clips >= most) return { ...told, more: true };
      clips += one.clips.size;
      this.#changed.delete(session);
      told.sessions.push({ session, groups: groupsOf(one) });
    }
    return told;
  }

  /** All groups, those of the earliest session first. */
  groups(): MulticamGroup[] {
    if (this.#zone.seconds !== this.#zoneUsed) this.#placeAgain();
    return [...this.#dated, this.#undated].flatMap(groupsOf);
  }

  /** When each clip ran, session by session: what the groups rest on. */
  spans(): ClipSpan[][] {
    if (this.#zone.seconds !== this.#zoneUsed) this.#placeAgain();
    return [...this.#dated, this.#undated].map(spansIn);
  }

  #place(timed: TimedClip): void {
    const start = anchorOf(timed, this.#zoneUsed);
    const anchored = { timed, start, end: start + timed.durationSeconds };
    this.#placed.set(timed.clip.unit, anchored);
    if (timed.wall === null) this.#note(add(this.#undated, anchored));
    else this.#putIn(anchored);
  }

  /** Sessions that the clip brings within the gap of each other become one. */
  #putIn(anchored: Anchored): void {
    const from = firstIndex(this.#dated, ({ end }) => end + GAP >= anchored.start);
    const to = firstIndex(this.#dated, ({ start }) => start - GAP > anchored.end);
    const [first, ...others] = this.#dated.slice(from, Math.max(from, to));
    const session = first ?? this.#newSession();
    for (const other of others) {
      for (const one of other.clips.values()) add(session, one);
      this.#end(other);
    }
    this.#note(add(session, anchored));
    this.#dated.splice(from, Math.max(from, to) - from, session);
  }

  /** What is left of the session may fall apart. */
  #takeOut(unit: string, placed: Anchored): void {
    const at = this.#indexOf(placed);
    const session = this.#dated[at];
    if (session === undefined) return;
    drop(session, unit);
    const parts = apart(session, () => this.#newSession());
    this.#dated.splice(at, 1, ...parts);
    if (parts.length === 0) this.#end(session);
    for (const part of parts) this.#note(part);
  }

  #indexOf({ start }: Anchored): number {
    return firstIndex(this.#dated, ({ end }) => end >= start);
  }

  #newSession(): Session {
    this.#lastId += 1;
    return emptySession(this.#lastId);
  }

  #note(session: Session): void {
    this.#changed.set(session.id, session);
  }

  #end({ id }: Session): void {
    this.#changed.delete(id);
    this.#gone.add(id);
  }

  /** Times of no known zone lie elsewhere by now. */
  #placeAgain(): void {
    const all = [...this.#placed.values()];
    this.#zoneUsed = this.#zone.seconds;
    for (const session of this.#dated) this.#end(session);
    this.#dated = [];
    this.#placed.clear();
    this.#undated = emptySession(0);
    this.#note(this.#undated);
    for (const { timed } of all) this.#place(timed);
  }
}

/** The groups of a project, all at once. */
export function multicamGroups(clips: readonly AngleClip[]): MulticamGroup[] {
  const sessions = new AngleSessions();
  for (const clip of clips) sessions.put(clip);
  return sessions.groups();
}

/**
 * By how much times of no known zone must be moved to lie beside instants: where clips have a timecode too, both can be compared with
 * that. To the quarter of an hour, as zones are.
 */
class ZoneGuess {
  readonly #instants = { x: 0, y: 0, clips: 0 };
  readonly #locals = { x: 0, y: 0, clips: 0 };

  add({ timecode, wall }: TimedClip, count: 1 | -1): void {
    if (timecode === null || wall === null || wall.told === 'file') return;
    const angle = wall.told === 'day' ? 0 : ((wall.seconds - timecode) / DAY) * 2 * Math.PI;
    const sums = wall.told === 'instant' ? this.#instants : this.#locals;
    sums.x += count * Math.cos(angle);
    sums.y += count * Math.sin(angle);
    sums.clips += count;
  }

  /** Seconds to add; 0 while one of the two is missing. */
  get seconds(): number {
    const [one, other] = [this.#instants, this.#locals];
    if (one.clips === 0 || other.clips === 0) return 0;
    const apart = ((Math.atan2(one.y, one.x) - Math.atan2(other.y, other.x)) / (2 * Math.PI)) * DAY;
    const near = apart - Math.round(apart / DAY) * DAY;
    return Math.round(near / 900) * 900;
  }
}

function anchorOf({ timecode, wall }: TimedClip, zone: number): number {
  if (wall === null) return timecode ?? 0;
  if (wall.told === 'day') return wall.seconds + (timecode ?? 0) + zone;
  return wall.told === 'local-time' ? wall.seconds + zone : wall.seconds;
}

function emptySession(id: number): Session {
  return { id, start: Number.POSITIVE_INFINITY, end: Number.NEGATIVE_INFINITY, clips: new Map(), groups: null };
}

function add(session: Session, anchored: Anchored): Session {
  session.clips.set(anchored.timed.clip.unit, anchored);
  session.start = Math.min(session.start, anchored.start);
  session.end = Math.max(session.end, anchored.end);
  session.groups = null;
  return session;
}

function drop(session: Session, unit: string): Session {
  session.clips.delete(unit);
  session.groups = null;
  return session;
}

/** The first part goes on under its number. */
function apart(session: Session, more: () => Session): Session[] {
  const parts: Session[] = [];
  for (const one of [...session.clips.values()].toSorted((a, b) => a.start - b.start)) {
    const last = parts.at(-1);
    if (last !== undefined && one.start <= last.end + GAP) add(last, one);
    else parts.push(add(parts.length === 0 ? emptySession(session.id) : more(), one));
  }
  return parts;
}

function groupsOf(session: Session): MulticamGroup[] {
  session.groups ??= findMulticam(spansIn(session));
  return session.groups;
}

/** In order of time and unit, so that the way they came makes no difference. */
function spansIn({ clips }: Session): ClipSpan[] {
  const sorted = [...clips.values()].sort(
    (a, b) => a.start - b.start || (a.timed.clip.unit < b.timed.clip.unit ? -1 : 1),
  );
  return spansOfTimed(sorted.map(({ timed }) => timed));
}

/** Index of the first of these ordered sessions for which it holds; their number where it does for none. */
function firstIndex(sessions: readonly Session[], holds: (session: Session) => boolean): number {
  let [low, high] = [0, sessions.length];
  while (low < high) {
    const middle = (low + high) >>> 1;
    const session = sessions[middle];
    if (session !== undefined && holds(session)) high = middle;
    else low = middle + 1;
  }
  return low;
}
