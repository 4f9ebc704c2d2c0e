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
  start: number;
  end: number;
  clips: Map<string, Anchored>;
  groups: MulticamGroup[] | null;
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
  readonly #undated: Session = emptySession();
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
    if (placed.timed.wall === null) drop(this.#undated, unit);
    else this.#takeOut(unit, placed);
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
    if (timed.wall === null) add(this.#undated, anchored);
    else this.#putIn(anchored);
  }

  /** Sessions that the clip brings within the gap of each other become one. */
  #putIn(anchored: Anchored): void {
    const from = firstIndex(this.#dated, ({ end }) => end + GAP >= anchored.start);
    const to = firstIndex(this.#dated, ({ start }) => start - GAP > anchored.end);
    const [first, ...others] = this.#dated.slice(from, Math.max(from, to));
    const session = first ?? emptySession();
    for (const other of others) for (const one of other.clips.values()) add(session, one);
    add(session, anchored);
    this.#dated.splice(from, Math.max(from, to) - from, session);
  }

  /** What is left of the session may fall apart. */
  #takeOut(unit: string, { start }: Anchored): void {
    const at = firstIndex(this.#dated, ({ end }) => end >= start);
    const session = this.#dated[at];
    if (session === undefined) return;
    drop(session, unit);
    this.#dated.splice(at, 1, ...apart(session));
  }

  /** Times of no known zone lie elsewhere by now. */
  #placeAgain(): void {
    const all = [...this.#placed.values()];
    this.#zoneUsed = this.#zone.seconds;
    this.#dated = [];
    this.#placed.clear();
    Object.assign(this.#undated, emptySession());
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

function emptySession(): Session {
  return { start: Number.POSITIVE_INFINITY, end: Number.NEGATIVE_INFINITY, clips: new Map(), groups: null };
}

function add(session: Session, anchored: Anchored): void {
  session.clips.set(anchored.timed.clip.unit, anchored);
  session.start = Math.min(session.start, anchored.start);
  session.end = Math.max(session.end, anchored.end);
  session.groups = null;
}

function drop(session: Session, unit: string): void {
  session.clips.delete(unit);
  session.groups = null;
}

function apart(session: Session): Session[] {
  const parts: Session[] = [];
  for (const one of [...session.clips.values()].toSorted((a, b) => a.start - b.start)) {
    const last = parts.at(-1);
    if (last !== undefined && one.start <= last.end + GAP) add(last, one);
    else {
      const next = emptySession();
      add(next, one);
      parts.push(next);
    }
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
