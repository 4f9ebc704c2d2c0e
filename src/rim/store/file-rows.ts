import type { SQLInputValue } from 'node:sqlite';
import { isExposable } from '../../core/assess/footprint.ts';
import type { Area, FileRecord, FileState, Instant, Kind, PathText } from '../../core/model.ts';

/** A row of the `file` table, read with `setReadBigInts`. */
export interface FileRow {
  id: bigint;
  volume: string;
  dir: string;
  name: string;
  size: bigint;
  allocated: bigint;
  mtime_ns: bigint;
  ctime_ns: bigint;
  dev: bigint;
  ino: bigint;
  nlink: bigint;
  area: string;
  project: string | null;
  kind: string;
  unit: string;
  state: string;
  counted: bigint;
  exposable: bigint;
  first_seen_at: bigint;
}

/** Folder and name of a path; the folder of a file in the root is the empty text. */
export function splitPath(path: PathText): { dir: string; name: string } {
  const slash = path.lastIndexOf('/');
  return slash < 0 ? { dir: '', name: path } : { dir: path.slice(0, slash), name: path.slice(slash + 1) };
}

export function joinPath(dir: string, name: string): PathText {
  return dir === '' ? name : `${dir}/${name}`;
}

/** Everything below a folder as a half-open range of texts: `0` is the character after `/`. */
export function rangeBelow(dir: string): { from: string; to: string } {
  return { from: `${dir}/`, to: `${dir}0` };
}

/** A 64-bit figure as SQLite keeps it, signed. */
function signed64(value: bigint): bigint {
  return BigInt.asIntN(64, value);
}

export function toRecord(row: FileRow): FileRecord {
  return {
    volume: row.volume,
    path: joinPath(row.dir, row.name),
    size: Number(row.size),
    allocated: Number(row.allocated),
    mtimeNs: row.mtime_ns,
    ctimeNs: row.ctime_ns,
    dev: BigInt.asUintN(64, row.dev),
    ino: BigInt.asUintN(64, row.ino),
    nlink: Number(row.nlink),
    area: row.area as Area,
    project: row.project,
    kind: row.kind as Kind,
    unit: row.unit,
    state: row.state as FileState,
  };
}

/** Parameters of the upsert, by name. */
export function toParameters(file: FileRecord, counted: boolean, firstSeenAt: Instant): Record<string, SQLInputValue> {
  const { dir, name } = splitPath(file.path);
  return {
    volume: file.volume,
    dir,
    name,
    size: file.size,
    allocated: file.allocated,
    mtimeNs: signed64(file.mtimeNs),
    ctimeNs: signed64(file.ctimeNs),
    dev: signed64(file.dev),
    ino: signed64(file.ino),
    nlink: file.nlink,
    area: file.area,
    project: file.project,
    kind: file.kind,
    unit: file.unit,
    state: file.state,
    counted: counted ? 1 : 0,
    exposable: isExposable(file) ? 1 : 0,
    firstSeenAt,
  };
}
