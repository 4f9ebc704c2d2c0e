import type { DatabaseSync } from 'node:sqlite';
import { addClip, durationMicros, type Footprint, isExposable } from '../../core/assess/footprint.ts';
import { isLacking, isUndecoded } from '../../core/intake/lacking.ts';
import type { Clip } from '../../core/model.ts';
import { clipFromJson, clipToJson } from './clip-json.ts';
import { openScopes } from './scopes.ts';

/** What a change of clips does to the sums. */
export interface SumChange {
  difference: Footprint;
}

/** A clip as it was read, and the unit that it was taken with. */
export interface BasedClip {
  base: string;
  clip: Clip;
}

/**
 * Clips are put and removed as they were read; those that are parts of one take stand in `part`, and in their place the take
 * in `clip`. All note in `change` what they change in the sums.
 */
export interface ClipWrites {
  /** `base`: the unit it was taken with. */
  put(change: SumChange, clip: Clip, base: string): void;
  /** All clips that were taken with a unit; returns them as they were read. Takes that they are parts of come apart first. */
  remove(change: SumChange, volume: string, unit: string): Clip[];
  /** Puts one clip in the place of its parts, the first of which it has the unit of. */
  join(change: SumChange, take: Clip, parts: readonly BasedClip[]): void;
  /** Puts the parts of a take back in its place. */
  takeApart(change: SumChange, volume: string, take: string): void;
}

export function openClipWrites(database: DatabaseSync): ClipWrites {
  const rows = openRows(database);
  const scopes = openScopes(database);
  const takesOf = database.prepare('SELECT DISTINCT take FROM part WHERE volume = ? AND base = ?');
  const dropParts = database.prepare('DELETE FROM part WHERE volume = ? AND take = ? RETURNING base, json');
  const insertPart = database.prepare('INSERT INTO part (volume, base, unit, take, json) VALUES (?, ?, ?, ?, ?)');

  function takeApart(change: SumChange, volume: string, take: string): void {
    const parts = dropParts.all(volume, take);
    rows.dropOne(change, volume, take);
    for (const { base, json } of parts) rows.insert(change, clipFromJson(String(json)), String(base));
    for (const { base } of parts) scopes.lookAgain(volume, String(base));
  }

  return {
    put(change, clip, base) {
      rows.insert(change, clip, base);
      scopes.came(clip, base);
    },
    remove(change, volume, base) {
      for (const { take } of takesOf.all(volume, base)) takeApart(change, volume, String(take));
      const removed = rows.dropAll(change, volume, base);
      scopes.went(volume, base, removed);
      return removed;
    },
    join(change, take, parts) {
      const [first] = parts;
      if (first === undefined) throw new RangeError('a take without parts');
      for (const { base, clip } of parts) {
        rows.dropOne(change, clip.volume, clip.unit);
        insertPart.run(clip.volume, base, clip.unit, take.unit, clipToJson(clip));
      }
      rows.insert(change, take, first.base);
    },
    takeApart,
  };
}

/** The rows of `clip`, with the sums. */
function openRows(database: DatabaseSync) {
  const dropAll = database.prepare('DELETE FROM clip WHERE volume = ? AND base = ? RETURNING json');
  const dropOne = database.prepare('DELETE FROM clip WHERE volume = ? AND unit = ? RETURNING json');
  const insert = database.prepare(`
    INSERT INTO clip (volume, unit, base, area, project, exposable, ready_at, bytes, duration_us, lacks, undecoded, json)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`);
  const takeOff = (change: SumChange, removed: readonly Record<string, unknown>[]): Clip[] => {
    const clips = removed.map((row) => clipFromJson(String(row['json'])));
    for (const clip of clips) addClip(change.difference, clip, -1);
    return clips;
  };
  return {
    dropAll: (change: SumChange, volume: string, base: string) => takeOff(change, dropAll.all(volume, base)),
    dropOne: (change: SumChange, volume: string, unit: string) => takeOff(change, dropOne.all(volume, unit)),
    insert(change: SumChange, clip: Clip, base: string): void {
      const { volume, unit, area, project, bytes } = clip;
      const duration = durationMicros(clip.facts.durationSeconds);
      const exposable = isExposable(clip) ? 1 : 0;
      const at = Math.round(clip.readyAt);
      insert.run(
        volume,
        unit,
        base,
        area,
        project,
        exposable,
        at,
        bytes,
        duration,
        exposable === 1 && isLacking(clip) ? 1 : 0,
        exposable === 1 && isUndecoded(clip) ? 1 : 0,
        clipToJson(clip),
      );
      addClip(change.difference, clip, 1);
    },
  };
}
