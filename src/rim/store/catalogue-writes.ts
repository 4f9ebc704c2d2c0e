import type { DatabaseSync } from 'node:sqlite';
import {
  addClip,
  addFile,
  addFileBytes,
  durationMicros,
  emptyFootprint,
  type Footprint,
  isFootage,
} from '../../core/assess/footprint.ts';
import type { Clip, FileRecord } from '../../core/model.ts';
import { type FileRow, splitPath, toParameters, toRecord } from './file-rows.ts';
import type { Sums } from './sums.ts';
import { inTransaction } from './transaction.ts';

export interface CatalogueWrites {
  putFiles(files: FileRecord[]): void;
  finishUnit(volume: string, unit: string, files: FileRecord[], clips: Clip[]): void;
}

/** What every change works with: the difference it makes to the sums, and what has to be looked at again at its end. */
export interface Change {
  difference: Footprint;
  /** Contents with several names, by inode and device: which name counts has to be decided again. */
  links: Map<string, { volume: string; ino: bigint; dev: bigint }>;
  /** Units that a file has left. */
  leftUnits: Map<string, { volume: string; unit: string }>;
}

export function emptyChange(): Change {
  return { difference: emptyFootprint(), links: new Map(), leftUnits: new Map() };
}

export function noteLink(change: Change, volume: string, ino: bigint, dev: bigint): void {
  change.links.set(`${ino} ${dev} ${volume}`, { volume, ino, dev });
}

export function noteLeftUnit(change: Change, volume: string, unit: string): void {
  change.leftUnits.set(`${volume.length} ${volume} ${unit}`, { volume, unit });
}

/** Puts files and clips, and keeps the sums right. */
export function openCatalogueWrites(database: DatabaseSync, sums: Sums): CatalogueWrites & { settle: Settle } {
  const putFile = openPutFile(database);
  const clips = openClipWrites(database);
  const settle = openSettle(database, sums, clips.remove);
  return {
    settle,
    putFiles(files) {
      inTransaction(database, () => {
        const change = emptyChange();
        for (const file of files) putFile(change, file);
        settle(change);
      });
    },
    finishUnit(volume, unit, files, taken) {
      inTransaction(database, () => {
        const change = emptyChange();
        for (const file of files) putFile(change, file.state === 'arriving' ? { ...file, state: 'ready' } : file);
        clips.remove(change, volume, unit);
        for (const clip of taken) clips.put(change, { ...clip, volume }, unit);
        settle(change);
      });
    },
  };
}

function openPutFile(database: DatabaseSync): (change: Change, file: FileRecord) => void {
  const find = database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ? AND name = ?');
  find.setReadBigInts(true);
  const put = database.prepare(`
    INSERT INTO file (volume, dir, name, size, allocated, mtime_ns, ctime_ns, dev, ino, nlink, area, project, kind, unit,
      state, counted)
    VALUES (:volume, :dir, :name, :size, :allocated, :mtimeNs, :ctimeNs, :dev, :ino, :nlink, :area, :project, :kind, :unit,
      :state, :counted)
    ON CONFLICT (volume, dir, name) DO UPDATE SET size = excluded.size, allocated = excluded.allocated,
      mtime_ns = excluded.mtime_ns, ctime_ns = excluded.ctime_ns, dev = excluded.dev, ino = excluded.ino,
      nlink = excluded.nlink, area = excluded.area, project = excluded.project, kind = excluded.kind,
      unit = excluded.unit, state = excluded.state, counted = excluded.counted`);
  return (change, file) => {
    const { dir, name } = splitPath(file.path);
    const row = find.get(file.volume, dir, name) as unknown as FileRow | undefined;
    if (row !== undefined) {
      addFile(change.difference, toRecord(row), row.counted === 1n, -1);
      if (row.nlink > 1n) noteLink(change, row.volume, row.ino, row.dev);
      if (row.unit !== file.unit) noteLeftUnit(change, row.volume, row.unit);
    }
    // Of several names none counts at first; `settle` gives the bytes to one of them.
    const alone = file.nlink <= 1;
    const parameters = toParameters(file, alone);
    put.run(parameters);
    addFile(change.difference, file, alone, 1);
    if (!alone) noteLink(change, file.volume, parameters['ino'] as bigint, parameters['dev'] as bigint);
  };
}

interface ClipWrites {
  /** `base`: the unit it was taken with. */
  put(change: Change, clip: Clip, base: string): void;
  /** All clips that were taken with a unit. */
  remove(change: Change, volume: string, unit: string): void;
}

function openClipWrites(database: DatabaseSync): ClipWrites {
  const find = database.prepare('SELECT json FROM clip WHERE volume = ? AND base = ?');
  const drop = database.prepare('DELETE FROM clip WHERE volume = ? AND base = ?');
  const insert = database.prepare(`
    INSERT INTO clip (volume, unit, base, area, project, footage, ready_at, bytes, duration_us, json)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`);
  return {
    put(change, clip, base) {
      const { volume, unit, area, project, bytes } = clip;
      const duration = durationMicros(clip.facts.durationSeconds);
      const footage = isFootage(clip.kind) ? 1 : 0;
      const at = Math.round(clip.readyAt);
      insert.run(volume, unit, base, area, project, footage, at, bytes, duration, JSON.stringify(clip));
      addClip(change.difference, clip, 1);
    },
    remove(change, volume, base) {
      for (const row of find.all(volume, base)) {
        addClip(change.difference, JSON.parse(String(row['json'])) as Clip, -1);
      }
      drop.run(volume, base);
    },
  };
}

/** Ends a change: hard links, clips without files, sums. Returns the left units that still have files. */
export type Settle = (change: Change) => string[];

function openSettle(database: DatabaseSync, sums: Sums, removeClip: ClipWrites['remove']): Settle {
  const linked = database.prepare(
    'SELECT * FROM file WHERE volume = ? AND ino = ? AND dev = ? AND nlink > 1 ORDER BY dir, name',
  );
  linked.setReadBigInts(true);
  const setCounted = database.prepare('UPDATE file SET counted = ? WHERE id = ?');
  const anyOfUnit = database.prepare('SELECT 1 FROM file WHERE volume = ? AND unit = ? LIMIT 1');

  /** The first name in order of folder and name counts: the order in which files were found plays no part. */
  const relink = (change: Change, volume: string, ino: bigint, dev: bigint) => {
    const rows = linked.all(volume, ino, dev) as unknown as FileRow[];
    for (const [place, row] of rows.entries()) {
      const counts = place === 0;
      if (counts === (row.counted === 1n)) continue;
      setCounted.run(counts ? 1 : 0, row.id);
      addFileBytes(change.difference, toRecord(row), counts ? 1 : -1);
    }
  };
  return (change) => {
    for (const { volume, ino, dev } of change.links.values()) relink(change, volume, ino, dev);
    const remaining: string[] = [];
    for (const { volume, unit } of change.leftUnits.values()) {
      if (anyOfUnit.get(volume, unit) === undefined) removeClip(change, volume, unit);
      else remaining.push(unit);
    }
    sums.add(change.difference);
    return remaining;
  };
}
