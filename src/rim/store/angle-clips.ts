import type { DatabaseSync } from 'node:sqlite';
import type { SignClip } from '../../core/assess/clip-kin.ts';

/** Where to go on reading: after this clip. */
export interface ClipCursor {
  readyAt: number;
  id: number;
}

export interface AngleClips {
  /** The next clips of a project, in the order in which they became ready. `after`: where they end; `null`: these were the last. */
  next(volume: string, project: string, after: ClipCursor): { clips: SignClip[]; after: ClipCursor | null };
  /** One clip; `null`: it is not there, or not in this project, or of a kind that is not looked at. */
  one(volume: string, project: string, unit: string): SignClip | null;
}

/** As much of a clip as the search for groups looks at. The times are those of its largest file. */
const LOOKED = `
  CASE WHEN json_extract(json, '$.kind') IN ('original', 'sound', 'proxy', 'render') THEN
    json_object('unit', clip.unit, 'kind', json -> '$.kind', 'name', json -> '$.name', 'readyAt', ready_at,
      'paths', json_array(json -> '$.paths[0]'), 'bytes', bytes, 'essenceBytes', json -> '$.essenceBytes',
      'facts', json_object('codec', json -> '$.facts.codec',
      'profile', json -> '$.facts.profile', 'width', json -> '$.facts.width', 'height', json -> '$.facts.height',
      'frameRate', json -> '$.facts.frameRate', 'durationSeconds', json -> '$.facts.durationSeconds',
      'startTimecode', json -> '$.facts.startTimecode', 'reel', json -> '$.facts.reel',
      'camera', json -> '$.facts.camera', 'recordedAt', json -> '$.facts.recordedAt',
      'recordedAtBasis', json -> '$.facts.recordedAtBasis'),
      'fileTimes', CASE WHEN json_extract(json, '$.facts.recordedAt') IS NULL THEN
        json((SELECT json_object('writtenAt', mtime_ns / 1000000, 'firstSeenAt', first_seen_at)
          FROM file WHERE file.volume = clip.volume AND file.unit = clip.base ORDER BY size DESC LIMIT 1)) END) END AS looked`;

/** Reads what the search looks at, `slice` clips at a time. */
export function openAngleClips(database: DatabaseSync, slice: number): AngleClips {
  const next = database.prepare(`
    SELECT rowid AS id, ready_at AS readyAt, ${LOOKED}
    FROM clip INDEXED BY clip_newest_of_project
    WHERE project = ? AND (ready_at, rowid) > (?, ?) AND volume = ? ORDER BY ready_at, rowid LIMIT ?`);
  const one = database.prepare(`SELECT ${LOOKED} FROM clip WHERE volume = ? AND unit = ? AND project = ?`);
  return {
    next(volume, project, { readyAt, id }) {
      const rows = next.all(project, readyAt, id, volume, slice);
      const last = rows.length === slice ? rows.at(-1) : undefined;
      return {
        clips: rows.flatMap((row) => clipOf(row['looked'])),
        after: last === undefined ? null : { readyAt: Number(last['readyAt']), id: Number(last['id']) },
      };
    },
    one: (volume, project, unit) => clipOf(one.get(volume, unit, project)?.['looked'] ?? null)[0] ?? null,
  };
}

function clipOf(looked: unknown): SignClip[] {
  return looked === null || looked === undefined ? [] : [JSON.parse(String(looked)) as SignClip];
}
