import type { DatabaseSync } from 'node:sqlite';
import { addFile } from '../../core/assess/footprint.ts';
import { isMoved } from '../../core/intake/moved.ts';
import { clipsByLead, regroup } from '../../core/intake/regroup.ts';
import type { Clip, FileRecord, Instant, PathText } from '../../core/model.ts';
import type { Move } from '../../core/store-ports.ts';
import { openCardLists } from './card-lists.ts';
import { type CatalogueWrites, type Change, emptyChange, noteLink } from './catalogue-writes.ts';
import { type FileRow, splitPath, toRecord } from './file-rows.ts';
import { inTransaction } from './transaction.ts';

export interface MovesKept {
  left: PathText[];
  again: string[];
}

type Writes = Pick<CatalogueWrites, 'putFile' | 'clips' | 'mended' | 'broken' | 'settle'>;

/** A file that has left its old path, with when it was first seen. */
interface Moving {
  file: FileRecord;
  firstSeenAt: Instant;
}

/**
 * Moves ready files to other paths, all in one transaction: first every file leaves its old path, then the files that
 * stood in the new places go, so that files may change places; then the units that lost or got one are grouped again.
 */
export function openMove(
  database: DatabaseSync,
  writes: Writes,
): (volume: string, moves: Move[], at: Instant) => MovesKept {
  const take = openTake(database);
  const regroupUnit = openRegroup(database, writes);
  const { move: moveList } = openCardLists(database);
  const moveSources = openMoveSources(database);

  return (volume, moves, at) =>
    inTransaction(database, () => {
      const change = emptyChange();
      const units = new Set<string>();
      const paths = new Map<PathText, PathText>();
      const places = new Set<PathText>();
      const moving: Moving[] = [];
      const left: PathText[] = [];
      const takeOut = (path: PathText, isWanted: (known: FileRecord) => boolean): FileRow | null => {
        const row = take(change, volume, path, isWanted);
        if (row !== null) units.add(row.unit);
        return row;
      };
      for (const { from, file } of moves) {
        const row = takeOut(from, (known) => isMoved(known, file) && !places.has(file.path));
        if (row === null) left.push(file.path);
        else {
          paths.set(from, file.path);
          places.add(file.path);
          moving.push({ file: { ...file, volume }, firstSeenAt: Number(row.first_seen_at) });
        }
      }
      for (const { file } of moving) takeOut(file.path, () => true);
      moveSources(volume, paths);
      for (const [from, to] of paths) moveList(volume, from, to);
      const arriving = moving.filter(({ file }) => file.state !== 'ready');
      for (const { file, firstSeenAt } of arriving) writes.putFile(change, file, at, firstSeenAt);
      const ready = Map.groupBy(
        moving.filter(({ file }) => file.state === 'ready'),
        ({ file }) => file.unit,
      );
      for (const unit of ready.keys()) units.add(unit);
      const clips = [...units].flatMap((unit) => writes.clips.remove(change, volume, unit));
      const known = clipsByLead(clips, paths);
      const again = [...units].filter(
        (unit) => !regroupUnit(change, { volume, unit, known, at }, ready.get(unit) ?? []),
      );
      writes.settle(change);
      return { left, again: again.sort() };
    });
}

/** What was known of its content is known under its new name: its copies stay its copies. */
function openMoveSources(database: DatabaseSync): (volume: string, paths: ReadonlyMap<PathText, PathText>) => void {
  const find = database.prepare(
    'SELECT size, mtime_ns, content, read_at FROM ledger.source WHERE volume = ? AND dir = ? AND name = ?',
  );
  find.setReadBigInts(true);
  const put = database.prepare('INSERT OR REPLACE INTO ledger.source VALUES (?, ?, ?, ?, ?, ?, ?)');
  return (volume, paths) => {
    // All are read before any is put: two files may have changed places.
    const known = [...paths].flatMap(([from, to]) => {
      const [old, now] = [splitPath(from), splitPath(to)];
      return find.all(volume, old.dir, old.name).map((row) => ({ ...row, ...now }) as unknown as SourceRow);
    });
    for (const { dir, name, size, mtime_ns, content, read_at } of known) {
      put.run(volume, dir, name, size, mtime_ns, content, read_at);
    }
  };
}

interface SourceRow {
  dir: string;
  name: string;
  size: bigint;
  mtime_ns: bigint;
  content: bigint;
  read_at: bigint;
}

/** Takes a file out of the table and the sums, if it is there and wanted. */
function openTake(database: DatabaseSync) {
  const find = database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ? AND name = ?');
  find.setReadBigInts(true);
  const drop = database.prepare('DELETE FROM file WHERE id = ?');
  return (change: Change, volume: string, path: PathText, isWanted: (known: FileRecord) => boolean): FileRow | null => {
    const { dir, name } = splitPath(path);
    const row = find.get(volume, dir, name) as unknown as FileRow | undefined;
    if (row === undefined || !isWanted(toRecord(row))) return null;
    drop.run(row.id);
    addFile(change.difference, toRecord(row), row.counted === 1n, -1);
    if (row.nlink > 1n) noteLink(change, volume, row.ino, row.dev);
    return row;
  };
}

interface UnitChange {
  volume: string;
  unit: string;
  known: ReadonlyMap<PathText, Clip>;
  at: Instant;
}

/** Puts the files that came to a unit and makes its clips; false when the unit must settle once more. */
function openRegroup(database: DatabaseSync, { putFile, clips, mended, broken }: Writes) {
  const filesOfUnit = database.prepare('SELECT * FROM file WHERE volume = ? AND unit = ?');
  filesOfUnit.setReadBigInts(true);
  return (change: Change, { volume, unit, known, at }: UnitChange, came: readonly Moving[]): boolean => {
    const there = (filesOfUnit.all(volume, unit) as unknown as FileRow[]).map(toRecord);
    const stayed = there.filter(({ state }) => state === 'ready');
    const grouped = regroup([...stayed, ...came.map(({ file }) => file)], known);
    const firstSeen = new Map(came.map(({ file, firstSeenAt }) => [file.path, firstSeenAt]));
    const kinds = new Map(stayed.map(({ path, kind }) => [path, kind]));
    for (const file of grouped.files) {
      // Those that stayed are put again only if they are something else in the group as it is now.
      if (kinds.get(file.path) !== file.kind) putFile(change, file, at, firstSeen.get(file.path));
    }
    for (const clip of grouped.clips) clips.put(change, clip, unit);
    const done = grouped.complete && !there.some(({ state }) => state === 'arriving');
    if (grouped.complete) mended(volume, unit);
    else broken(volume, unit);
    return done || grouped.files.length === 0;
  };
}
