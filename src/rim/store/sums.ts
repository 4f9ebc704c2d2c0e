import type { DatabaseSync } from 'node:sqlite';
import type { ClipSum, FileSum, Footprint } from '../../core/assess/footprint.ts';
import type { Area, Kind } from '../../core/model.ts';

/** The running sums of the catalogue. */
export interface Sums {
  /** Adds a difference; to be called in the transaction that makes it. */
  add(difference: Footprint): void;
  files(): FileSum[];
  clips(): ClipSum[];
}

export function openSums(database: DatabaseSync): Sums {
  const addFile = database.prepare(`
    INSERT INTO file_sum VALUES (:key, :volume, :area, :project, :kind, :files, :bytes)
    ON CONFLICT (key) DO UPDATE SET files = files + excluded.files, bytes = bytes + excluded.bytes`);
  const dropFile = database.prepare('DELETE FROM file_sum WHERE key = ? AND files = 0');
  const addClip = database.prepare(`
    INSERT INTO clip_sum VALUES (:key, :volume, :area, :project, :kind, :codec, :width, :height, :rateNum, :rateDen,
      :clips, :bytes, :timedBytes, :durationMicros)
    ON CONFLICT (key) DO UPDATE SET clips = clips + excluded.clips, bytes = bytes + excluded.bytes,
      timed_bytes = timed_bytes + excluded.timed_bytes, duration_us = duration_us + excluded.duration_us`);
  const dropClip = database.prepare('DELETE FROM clip_sum WHERE key = ? AND clips = 0');
  const allFiles = database.prepare('SELECT * FROM file_sum');
  const allClips = database.prepare('SELECT * FROM clip_sum');
  return {
    add(difference) {
      for (const [key, sum] of difference.files) {
        if (sum.files === 0 && sum.bytes === 0) continue;
        addFile.run({ key, ...sum });
        dropFile.run(key);
      }
      for (const [key, { frameRate, ...sum }] of difference.clips) {
        if (sum.clips === 0 && sum.bytes === 0 && sum.durationMicros === 0) continue;
        addClip.run({ key, ...sum, rateNum: frameRate?.num ?? null, rateDen: frameRate?.den ?? null });
        dropClip.run(key);
      }
    },
    files: () => allFiles.all().map(toFileSum),
    clips: () => allClips.all().map(toClipSum),
  };
}

type Row = Record<string, unknown>;

function toFileSum(row: Row): FileSum {
  return { ...place(row), files: Number(row['files']), bytes: Number(row['bytes']) };
}

function toClipSum(row: Row): ClipSum {
  const num = numberOrNull(row['rate_num']);
  const den = numberOrNull(row['rate_den']);
  return {
    ...place(row),
    codec: textOrNull(row['codec']),
    width: numberOrNull(row['width']),
    height: numberOrNull(row['height']),
    frameRate: num === null || den === null ? null : { num, den },
    clips: Number(row['clips']),
    bytes: Number(row['bytes']),
    timedBytes: Number(row['timed_bytes']),
    durationMicros: Number(row['duration_us']),
  };
}

function place(row: Row): { volume: string; area: Area; project: string | null; kind: Kind } {
  const project = textOrNull(row['project']);
  return { volume: String(row['volume']), area: row['area'] as Area, project, kind: row['kind'] as Kind };
}

function textOrNull(value: unknown): string | null {
  return typeof value === 'string' ? value : null;
}

function numberOrNull(value: unknown): number | null {
  return typeof value === 'number' ? value : null;
}
