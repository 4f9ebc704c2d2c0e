import type { DatabaseSync } from 'node:sqlite';
import { addClip, durationMicros, type Footprint, isExposable } from '../../core/assess/footprint.ts';
import type { Clip } from '../../core/model.ts';

/** Both note in `change` what they change in the sums. */
export interface ClipWrites {
  /** `base`: the unit it was taken with. */
  put(change: { difference: Footprint }, clip: Clip, base: string): void;
  /** All clips that were taken with a unit; returns them. */
  remove(change: { difference: Footprint }, volume: string, unit: string): Clip[];
}

export function openClipWrites(database: DatabaseSync): ClipWrites {
  const drop = database.prepare('DELETE FROM clip WHERE volume = ? AND base = ? RETURNING json');
  const insert = database.prepare(`
    INSERT INTO clip (volume, unit, base, area, project, exposable, ready_at, bytes, duration_us, json)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`);
  return {
    put(change, clip, base) {
      const { volume, unit, area, project, bytes } = clip;
      const duration = durationMicros(clip.facts.durationSeconds);
      const exposable = isExposable(clip) ? 1 : 0;
      const at = Math.round(clip.readyAt);
      insert.run(volume, unit, base, area, project, exposable, at, bytes, duration, JSON.stringify(clip));
      addClip(change.difference, clip, 1);
    },
    remove(change, volume, base) {
      const removed = drop.all(volume, base).map((row) => JSON.parse(String(row['json'])) as Clip);
      for (const clip of removed) addClip(change.difference, clip, -1);
      return removed;
    },
  };
}
