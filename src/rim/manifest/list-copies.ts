import { readdirSync, readFileSync, statSync } from 'node:fs';
import { HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import type { Operation } from '../../core/backup/mhl-generation.ts';
import type { Creator, NowFile } from '../../core/backup/mhl-model.ts';
import { dateTimeOf, dateTimeOfNs } from '../../core/backup/mhl-time.ts';
import type { ListedCopy, ShelfList } from '../../core/backup/shelf-port.ts';
import { dirName, joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { recordTree } from './tree-histories.ts';

const TOOL = 'headroomd';

/**
 * Adds verified copies to the list of a folder on a shelf, as its next generation. A list that came with the footage is not ours to go on
 * with: the copy of it would no longer be what was copied. What lies under one has its own list already and stands in none of ours. In a
 * sentence why nothing could be written; `null`: it is. `root`: the shelf's, absolute. Synchronous.
 */
export function listCopies(
  root: string,
  { top, startedAt, files }: ShelfList,
  { host, toolVersion }: Omit<Creator, 'tool'>,
): string | null {
  const folder = toAbsolute(root, top);
  if (typeof folder !== 'string') return `${top} has no list: its name is no text that a list can have.`;
  if (hasForeignList(folder)) return null;
  const operation: Operation = {
    ...{ startedAt, creator: { host, tool: TOOL, toolVersion }, process: 'transfer', whole: false, ignore: [] },
    folderFormat: 'xxh64',
  };
  const listed = files.filter(listedElsewhere(folder)).map(nowFile);
  if (listed.length === 0) return null;
  const results = recordTree({ top: folder, nested: [], files: listed, folders: [] }, operation);
  const failed = results.find((result) => !result.ok);
  return failed === undefined || failed.ok
    ? null
    : `the list of ${top} could not be continued (${failed.file}): ${failed.detail}`;
}

function nowFile({ path, size, mtimeNs, values, hashedAt }: ListedCopy): NowFile {
  return {
    ...{ path, size, modifiedAt: dateTimeOfNs(mtimeNs), values },
    ...{ hashedAt: dateTimeOf(hashedAt), previousPath: null },
  };
}

/** True of a file above which no other list lies. */
function listedElsewhere(folder: string): (file: ListedCopy) => boolean {
  const hasList = new Map<PathText, boolean>([['', false]]);
  const isBelow = (dir: PathText): boolean => {
    const known = hasList.get(dir);
    if (known !== undefined) return known;
    const found = isFolder(toAbsolute(folder, joinPath(dir, HISTORY_FOLDER))) || isBelow(dirName(dir));
    hasList.set(dir, found);
    return found;
  };
  return ({ path }) => !isBelow(dirName(path));
}

function isFolder(path: string | Buffer): boolean {
  return statSync(path, { throwIfNoEntry: false })?.isDirectory() === true;
}

/** A list whose first manifest another program wrote. */
function hasForeignList(folder: string): boolean {
  const at = `${folder}/${HISTORY_FOLDER}`;
  if (!isFolder(at)) return false;
  const first = readdirSync(at)
    .filter((name) => name.endsWith('.mhl'))
    .sort()[0];
  return first !== undefined && !readFileSync(`${at}/${first}`, 'utf8').slice(0, 4096).includes(`>${TOOL}</tool>`);
}
