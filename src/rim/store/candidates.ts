import type { DatabaseSync } from 'node:sqlite';
import type { Candidate, InventoryFile } from '../../core/cards/inventory.ts';
import type { Place } from '../../core/cards/reconciliation.ts';
import type { FileState } from '../../core/model.ts';
import { joinPath, splitPath } from './file-rows.ts';

export interface CandidateQueries {
  /** `CataloguePort.candidates`. */
  candidates(files: readonly InventoryFile[]): Candidate[][];
  /** What is known to lie at these places, in their order; nothing of a place where nothing is known. */
  filesAt(places: readonly Place[]): Candidate[];
}

/** Candidates of one file at most. */
const MOST = 20;

/** FAT keeps modification times to 2 s (Microsoft FAT specification 1.03, "Date and Time Formats"). */
const STEP_NS = 2_000_000_000n;

/**
 * With so many files of one size, size and time no longer tell one from the other: frames of a sequence are all as long
 * as their neighbours, and many of them are written in one second.
 */
const SAME_SIZE = 64;

interface CandidateRow {
  volume: string;
  dir: string;
  name: string;
  size: bigint;
  mtime_ns: bigint;
  state: string;
}

/** What was thrown away is no copy. */
const COLUMNS = "SELECT volume, dir, name, size, mtime_ns, state FROM file WHERE area <> 'trash' AND";

/**
 * Finds files by size and name. Case is folded as SQLite does it, A to Z alone: card systems change no other (they write
 * short names in capitals).
 */
export function openCandidates(database: DatabaseSync): CandidateQueries {
  const prepare = (condition: string) => {
    const statement = database.prepare(`${COLUMNS} ${condition}`);
    statement.setReadBigInts(true);
    return statement;
  };
  const byName = prepare(`size = ? AND name = ? COLLATE NOCASE ORDER BY volume, dir, name LIMIT ${MOST}`);
  const ofSize = prepare('size = ? LIMIT ?');
  const withoutSize = prepare('name COLLATE NOCASE IN (SELECT value FROM json_each(?)) ORDER BY volume, dir, name');
  const at = prepare('volume = ? AND dir = ? AND name = ?');

  function byTime(size: number, mtimeMs: number, known: Map<number, CandidateRow[]>): CandidateRow[] {
    let rows = known.get(size);
    if (rows === undefined) {
      rows = ofSize.all(size, SAME_SIZE + 1) as unknown as CandidateRow[];
      known.set(size, rows);
    }
    if (rows.length > SAME_SIZE) return [];
    const time = BigInt(Math.round(mtimeMs)) * 1_000_000n;
    return rows.filter(({ mtime_ns }) => mtime_ns - time <= STEP_NS && time - mtime_ns <= STEP_NS).slice(0, MOST);
  }

  /** All of a call together: without a size this is a search through every name. */
  function byNameAlone(files: readonly InventoryFile[]): Map<string, CandidateRow[]> {
    const names = new Set(files.filter(({ size }) => size === null).map((file) => splitPath(file.path).name));
    if (names.size === 0) return new Map();
    const rows = withoutSize.all(JSON.stringify([...names])) as unknown as CandidateRow[];
    return Map.groupBy(rows, ({ name }) => foldAscii(name));
  }

  return {
    candidates(files) {
      const sameSize = new Map<number, CandidateRow[]>();
      const sameName = byNameAlone(files);
      return files.map(({ path, size, mtimeMs }) => {
        const { name } = splitPath(path);
        if (size === null) return (sameName.get(foldAscii(name)) ?? []).slice(0, MOST).map(toCandidate);
        const named = byName.all(size, name) as unknown as CandidateRow[];
        if (named.length > 0 || mtimeMs === null) return named.map(toCandidate);
        return byTime(size, mtimeMs, sameSize).map(toCandidate);
      });
    },
    filesAt(places) {
      return places.flatMap(({ volume, path }) => {
        const { dir, name } = splitPath(path);
        return (at.all(volume, dir, name) as unknown as CandidateRow[]).map(toCandidate);
      });
    },
  };
}

function toCandidate({ volume, dir, name, size, mtime_ns, state }: CandidateRow): Candidate {
  return {
    volume,
    path: joinPath(dir, name),
    size: Number(size),
    mtimeMs: Number(mtime_ns / 1_000_000n),
    state: state as FileState,
  };
}

function foldAscii(name: string): string {
  return name.replace(/[A-Z]/g, (letter) => letter.toLowerCase());
}
