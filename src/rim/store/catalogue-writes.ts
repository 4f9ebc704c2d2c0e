import type { DatabaseSync } from 'node:sqlite';
import { addFile, addFileBytes, emptyFootprint, type Footprint, isEssence } from '../../core/assess/footprint.ts';
import { compareSeen } from '../../core/intake/compare.ts';
import type { Clip, FileRecord, Instant, PathText } from '../../core/model.ts';
import { type ClipWrites, openClipWrites } from './clip-writes.ts';
import { type FileRow, splitPath, toParameters, toRecord } from './file-rows.ts';
import { openFirstSight } from './first-sight.ts';
import type { Sums } from './sums.ts';
import { inTransaction } from './transaction.ts';

/** Everything that happens at `at` is seen at that time. */
export interface CatalogueWrites {
  /** Paths of those that stay ready (`CataloguePort.putFiles`). */
  putFiles(files: FileRecord[], at: Instant): PathText[];
  finishUnit(volume: string, unit: string, what: Finished, at: Instant): void;
  /** Parts of other changes. */
  putFile: PutFile;
  clips: ClipWrites;
  mended: NoteUnit;
  broken: NoteUnit;
  settle: Settle;
}

/** `beside`: were ready before, and were not looked at now. */
export interface Finished {
  files: FileRecord[];
  beside: FileRecord[];
  clips: Clip[];
}

type NoteUnit = (volume: string, unit: string) => void;

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
export function openCatalogueWrites(database: DatabaseSync, sums: Sums): CatalogueWrites {
  const clips = openClipWrites(database);
  const putFile = openPutFile(database, clips.remove);
  const isFinished = openIsFinished(database);
  const mend = database.prepare('DELETE FROM broken_unit WHERE volume = ? AND unit = ?');
  const breakUp = database.prepare('INSERT OR IGNORE INTO broken_unit VALUES (?, ?)');
  const mended: NoteUnit = (volume, unit) => void mend.run(volume, unit);
  const broken: NoteUnit = (volume, unit) => void breakUp.run(volume, unit);
  const known = database.prepare('SELECT 1 FROM file WHERE volume = ? AND dir = ? AND name = ?');
  const isKnown = ({ volume, path }: FileRecord) => {
    const { dir, name } = splitPath(path);
    return known.get(volume, dir, name) !== undefined;
  };
  const settle = openSettle(database, sums, { removeClips: clips.remove, mended, broken });
  return {
    putFile,
    clips,
    mended,
    broken,
    settle,
    putFiles(files, at) {
      return inTransaction(database, () => {
        const change = emptyChange();
        const stay: PathText[] = [];
        for (const file of files) {
          if (isFinished(file)) stay.push(file.path);
          else putFile(change, file, at);
        }
        settle(change);
        return stay;
      });
    },
    finishUnit(volume, unit, { files, beside, clips: taken }, at) {
      inTransaction(database, () => {
        const change = emptyChange();
        const still = beside.filter(isKnown);
        for (const file of [...files, ...still]) {
          putFile(change, file.state === 'arriving' ? { ...file, state: 'ready' } : file, at);
        }
        if (still.length < beside.length) broken(volume, unit);
        else {
          clips.remove(change, volume, unit);
          for (const clip of taken) clips.put(change, { ...clip, volume }, unit);
          mended(volume, unit);
        }
        settle(change);
      });
    },
  };
}

/** Whether a file that is told as arriving is ready, and the same, by now. */
function openIsFinished(database: DatabaseSync): (file: FileRecord) => boolean {
  const ready = database.prepare(`SELECT * FROM file WHERE volume = ? AND dir = ? AND name = ? AND state = 'ready'`);
  ready.setReadBigInts(true);
  return (file) => {
    if (file.state !== 'arriving') return false;
    const { dir, name } = splitPath(file.path);
    const row = ready.get(file.volume, dir, name) as unknown as FileRow | undefined;
    return row !== undefined && row.unit === file.unit && compareSeen(toRecord(row), file).verdict === 'same';
  };
}

/** `firstSeenAt`: of a file that is new under this path and was known under another. */
type PutFile = (change: Change, file: FileRecord, at: Instant, firstSeenAt?: Instant) => void;

function openPutFile(database: DatabaseSync, removeClips: ClipWrites['remove']): PutFile {
  const find = database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ? AND name = ?');
  find.setReadBigInts(true);
  // `first_seen_at` stays what it was when the path was new.
  const put = database.prepare(`
    INSERT INTO file (volume, dir, name, size, allocated, mtime_ns, ctime_ns, dev, ino, nlink, area, project, kind, unit,
      state, counted, exposable, first_seen_at)
    VALUES (:volume, :dir, :name, :size, :allocated, :mtimeNs, :ctimeNs, :dev, :ino, :nlink, :area, :project, :kind, :unit,
      :state, :counted, :exposable, :firstSeenAt)
    ON CONFLICT (volume, dir, name) DO UPDATE SET size = excluded.size, allocated = excluded.allocated,
      mtime_ns = excluded.mtime_ns, ctime_ns = excluded.ctime_ns, dev = excluded.dev, ino = excluded.ino,
      nlink = excluded.nlink, area = excluded.area, project = excluded.project, kind = excluded.kind,
      unit = excluded.unit, state = excluded.state, counted = excluded.counted, exposable = excluded.exposable`);
  const firstSight = openFirstSight(database);
  // A second name tells more of the content than the first one did when it was looked at; their bytes are the same.
  const linkOthers = database.prepare(
    'UPDATE file INDEXED BY file_by_inode SET nlink = ? WHERE volume = ? AND ino = ? AND dev = ? AND nlink <= 1',
  );
  return (change, file, at, firstSeenAt) => {
    const { dir, name } = splitPath(file.path);
    const row = find.get(file.volume, dir, name) as unknown as FileRow | undefined;
    // Of several names none counts at first; `settle` gives the bytes to one of them.
    const alone = file.nlink <= 1;
    const parameters = toParameters(file, alone, at);
    if (row === undefined) parameters['firstSeenAt'] = firstSeenAt ?? firstSight.of(parameters, at);
    else {
      const before = toRecord(row);
      addFile(change.difference, before, row.counted === 1n, -1);
      if (row.nlink > 1n) noteLink(change, row.volume, row.ino, row.dev);
      if (row.unit !== file.unit) noteLeftUnit(change, row.volume, row.unit);
      if (belies(before, file)) removeClips(change, row.volume, row.unit);
    }
    const [ino, dev] = [parameters['ino'] as bigint, parameters['dev'] as bigint];
    const wasLinked = row !== undefined && row.nlink > 1n && row.ino === ino && row.dev === dev;
    if (!alone && !wasLinked && ino !== 0n) linkOthers.run(file.nlink, file.volume, ino, dev);
    put.run(parameters);
    addFile(change.difference, file, alone, 1);
    if (!alone) noteLink(change, file.volume, ino, dev);
  };
}

/** Whether what a clip tells of a file is no longer true: it is another one, is not ready any more, or left the unit. */
function belies(before: FileRecord, now: FileRecord): boolean {
  if (!isEssence(before.kind) && !isEssence(now.kind)) return false;
  if (before.state !== 'ready') return false;
  return now.state !== 'ready' || before.unit !== now.unit || compareSeen(before, now).verdict !== 'same';
}

/** Ends a change: hard links, clips without essence, sums. Returns the left units that still have files. */
export type Settle = (change: Change) => string[];

function openSettle(
  database: DatabaseSync,
  sums: Sums,
  { removeClips, mended, broken }: { removeClips: ClipWrites['remove']; mended: NoteUnit; broken: NoteUnit },
): Settle {
  const linked = database.prepare(`
    SELECT * FROM file INDEXED BY file_by_inode
    WHERE volume = ? AND ino = ? AND dev = ? AND nlink > 1 ORDER BY exposable DESC, dir, name`);
  linked.setReadBigInts(true);
  const setCounted = database.prepare('UPDATE file SET counted = ? WHERE id = ?');
  const anyOfUnit = database.prepare('SELECT 1 FROM file WHERE volume = ? AND unit = ? LIMIT 1');
  const essenceOfUnit = database.prepare(
    "SELECT 1 FROM file WHERE volume = ? AND unit = ? AND kind <> 'sidecar' AND state <> 'refused' LIMIT 1",
  );

  /**
   * Footage outside the trash counts before anything else, then the first name in order of folder and name: the order in
   * which files were found plays no part, and a second name in the trash does not take the bytes out of exposure.
   */
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
      if (essenceOfUnit.get(volume, unit) === undefined) removeClips(change, volume, unit);
      if (anyOfUnit.get(volume, unit) === undefined) {
        mended(volume, unit);
      } else {
        broken(volume, unit);
        remaining.push(unit);
      }
    }
    sums.add(change.difference);
    return remaining;
  };
}
