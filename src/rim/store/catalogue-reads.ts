import type { DatabaseSync, StatementSync } from 'node:sqlite';
import type { Clip, FileRecord, FileStat, PathText } from '../../core/model.ts';
import type { ClipQuery, FilesPage } from '../../core/store-ports.ts';
import { clipFromJson } from './clip-json.ts';
import { openFileCompare } from './file-compare.ts';
import { openFilesBelow, openUnfinished, openVanishedFolders } from './file-pages.ts';
import { type FileRow, splitPath, toRecord } from './file-rows.ts';
import type { FilePlaces } from './protocol.ts';
import type { Sums } from './sums.ts';

export interface CatalogueReads {
  compareListing(
    volume: string,
    dir: PathText,
    files: FileStat[],
    dirs: string[],
  ): { places: FilePlaces; gone: PathText[] };
  compareFiles(volume: string, files: FileStat[]): FilePlaces;
  filesOfUnits(volume: string, units: string[]): FileRecord[];
  unfinished(volume: string, only: 'broken' | null, after: string | null): FilesPage;
  filesBelow(volume: string, paths: PathText[], only: 'unfinished' | null, after: string | null): FilesPage;
  clips(query: ClipQuery): Clip[];
  lacking(volume: string, newest: number): Clip[];
  undecoded(volume: string, newest: number): Clip[];
  counts(volume: string | null): { files: number; clips: number };
}

export function openCatalogueReads(database: DatabaseSync, sums: Sums): CatalogueReads {
  const file = bigInts(database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ? AND name = ?'));
  const folder = bigInts(database.prepare('SELECT * FROM file WHERE volume = ? AND dir = ?'));
  const unit = bigInts(
    database.prepare('SELECT * FROM file INDEXED BY file_by_unit WHERE volume = ? AND unit = ? ORDER BY dir, name'),
  );
  const lacking = database.prepare(
    'SELECT json FROM clip WHERE volume = :volume AND lacks = 1 ORDER BY ready_at DESC, unit LIMIT :newest',
  );
  const undecoded = database.prepare(
    'SELECT json FROM clip WHERE volume = :volume AND undecoded = 1 ORDER BY ready_at DESC, unit LIMIT :newest',
  );
  const clipsOf = (statement: StatementSync, volume: string, newest: number) =>
    statement.all({ volume, newest }).map(({ json }) => clipFromJson(String(json)));
  const compare = openFileCompare(database);
  const vanishedFolders = openVanishedFolders(database);
  const records = (statement: StatementSync, ...values: string[]) =>
    (statement.all(...values) as unknown as FileRow[]).map(toRecord);
  return {
    compareListing(volume, dir, files, dirs) {
      const known = new Map(records(folder, volume, dir).map((record) => [record.path, record]));
      const places = compare(volume, files, (seen) => known.get(seen.path));
      for (const seen of files) known.delete(seen.path);
      return { places, gone: [...new Set([...known.keys(), ...vanishedFolders(volume, dir, dirs, files)])] };
    },
    compareFiles: (volume, files) =>
      compare(volume, files, ({ path }) => {
        const { dir, name } = splitPath(path);
        const row = file.get(volume, dir, name) as unknown as FileRow | undefined;
        return row === undefined ? undefined : toRecord(row);
      }),
    filesOfUnits: (volume, keys) => keys.flatMap((key) => records(unit, volume, key)),
    unfinished: openUnfinished(database),
    filesBelow: openFilesBelow(database),
    clips: openClips(database),
    lacking: (volume, newest) => clipsOf(lacking, volume, newest),
    undecoded: (volume, newest) => clipsOf(undecoded, volume, newest),
    counts(volume) {
      const mine = (sum: { volume: string }) => volume === null || sum.volume === volume;
      const files = sums
        .files()
        .filter(mine)
        .reduce((total, sum) => total + sum.files, 0);
      return {
        files,
        clips: sums
          .clips()
          .filter(mine)
          .reduce((total, sum) => total + sum.clips, 0),
      };
    },
  };
}

function openClips(database: DatabaseSync): (query: ClipQuery) => Clip[] {
  const order = 'ORDER BY ready_at DESC, volume, unit LIMIT :newest';
  const all = database.prepare(`SELECT json FROM clip ${order}`);
  const ofVolume = database.prepare(`SELECT json FROM clip WHERE volume = :volume ${order}`);
  const ofProject = database.prepare(`SELECT json FROM clip WHERE project = :project ${order}`);
  const ofBoth = database.prepare(`SELECT json FROM clip WHERE volume = :volume AND project = :project ${order}`);
  return ({ volume, project, newest }) => {
    const limit = { newest: newest ?? -1 };
    const rows =
      volume === undefined
        ? project === undefined
          ? all.all(limit)
          : ofProject.all({ ...limit, project })
        : project === undefined
          ? ofVolume.all({ ...limit, volume })
          : ofBoth.all({ ...limit, volume, project });
    return rows.map((row) => clipFromJson(String(row['json'])));
  };
}

function bigInts(statement: StatementSync): StatementSync {
  statement.setReadBigInts(true);
  return statement;
}
