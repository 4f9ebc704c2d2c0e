import { type Dirent, lstatSync, readdirSync } from 'node:fs';
import type { ChainLink } from '../../core/backup/chain.ts';
import { CHAIN_FILE, generationNumber, HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import { MhlHistory } from '../../core/backup/mhl-history.ts';
import { messageOf } from '../../core/fault.ts';
import { joinPath } from '../../core/intake/path-text.ts';
import type { PathText } from '../../core/model.ts';
import { fromDirent, toAbsolute } from '../base/byte-path.ts';
import { readSmallFile } from '../base/small-file.ts';
import { parseChain } from './chain-file.ts';
import { type HistoryList, readHistoryList } from './history-list.ts';

const MOST_CHAIN_BYTES = 32 * 1024 * 1024;

/**
 * Why a history cannot be trusted. `no-chain`: manifests without their chain; `damaged-chain`: the chain cannot be read, or
 * has gaps; `modified-manifest`: its bytes are not those of the chain; `missing-manifest`: the chain names it and it is not
 * there; `damaged-manifest`: it is as the chain has it, and no list that we can read; `unreadable`: the system refused.
 */
export type HistoryTrouble =
  | 'no-chain'
  | 'damaged-chain'
  | 'modified-manifest'
  | 'missing-manifest'
  | 'damaged-manifest'
  | 'unreadable';

/** A manifest that has the next number and is not in the chain: its writer was ended between the two. */
export interface Unchained {
  link: ChainLink;
  list: HistoryList;
}

/** `file`: what is wrong is wrong with it; a path below the tree. */
export type HistoryOutcome =
  | {
      ok: true;
      history: MhlHistory;
      chain: ChainLink[];
      unchained: Unchained | null;
      /** An empty file with the next number: its writer was ended between taking the name and giving it to the manifest. */
      held: string | null;
      /** Other manifests that the chain does not name; nothing is taken from them. */
      strays: string[];
    }
  | { ok: false; reason: HistoryTrouble; file: PathText; detail: string };

/**
 * Reads the history of one folder, the chain first. A folder without one has an empty history. Synchronous: for a worker or
 * a child process. Never throws.
 * @param top absolute path of the tree
 * @param root the folder below it that holds `ascmhl`; '' for the tree's own
 * @param tool the program whose unchained manifest counts as one that was being written
 */
export function readHistory(top: string, root: PathText, tool: string): HistoryOutcome {
  const folder = joinPath(root, HISTORY_FOLDER);
  try {
    return readFolder(top, folder, tool);
  } catch (error) {
    if (error instanceof Trouble) return { ok: false, reason: error.reason, file: error.file, detail: error.message };
    return { ok: false, reason: 'unreadable', file: folder, detail: messageOf(error) };
  }
}

class Trouble extends Error {
  readonly reason: HistoryTrouble;
  readonly file: PathText;

  constructor(reason: HistoryTrouble, file: PathText, detail: string) {
    super(detail);
    this.reason = reason;
    this.file = file;
  }
}

function readFolder(top: string, folder: PathText, tool: string): HistoryOutcome {
  const entries = entriesOf(top, folder);
  const names = entries.map((entry) => fromDirent(entry.name)).filter((name) => generationNumber(name) !== null);
  const isChained = entries.some((entry) => entry.name.equals(Buffer.from(CHAIN_FILE)));
  const chain = isChained ? readChain(top, folder) : [];
  const history = new MhlHistory();
  for (const link of chain) {
    const { files, ignore } = readLinked(top, folder, link, names);
    history.add(files, ignore);
  }
  const loose = names.filter((name) => !chain.some(({ file }) => file === name)).sort();
  const [next, second] = loose.filter((name) => generationNumber(name) === chain.length + 1);
  const left = next === undefined || second !== undefined ? null : leftBy(top, folder, next, tool);
  const strays = left === null ? loose : loose.filter((name) => name !== next);
  if (!isChained && strays.length > 0) {
    const detail = `There are manifests, and no ${CHAIN_FILE} that says which and in what state.`;
    throw new Trouble('no-chain', folder, detail);
  }
  return { ok: true, history, chain, unchained: null, held: null, ...left, strays };
}

/** A link in the place of the folder is not followed: what we write must stay in the tree. */
function entriesOf(top: string, folder: PathText): Dirent<Buffer>[] {
  const path = toAbsolute(top, folder);
  const stat = lstatSync(path, { throwIfNoEntry: false });
  if (stat === undefined) return [];
  if (!stat.isDirectory()) throw new Trouble('unreadable', folder, 'It is no folder, or a link to one.');
  return readdirSync(path, { withFileTypes: true, encoding: 'buffer' });
}

function readChain(top: string, folder: PathText): ChainLink[] {
  const file = joinPath(folder, CHAIN_FILE);
  const read = readSmallFile(toAbsolute(top, file), MOST_CHAIN_BYTES);
  if (!read.ok) throw new Trouble('unreadable', file, read.detail);
  try {
    return parseChain(new TextDecoder('utf-8', { fatal: true }).decode(read.bytes));
  } catch (error) {
    throw new Trouble('damaged-chain', file, messageOf(error));
  }
}

function readLinked(top: string, folder: PathText, link: ChainLink, names: readonly PathText[]): HistoryList {
  const file = joinPath(folder, link.file);
  if (!names.includes(link.file)) {
    throw new Trouble('missing-manifest', file, `The chain names it as generation ${link.number}.`);
  }
  const list = readHistoryList(toAbsolute(top, file));
  if (list.c4 !== link.c4) {
    throw new Trouble('modified-manifest', file, `The chain has ${link.c4} for it, and it has ${list.c4}.`);
  }
  if (list.trouble !== null) throw new Trouble('damaged-manifest', file, list.trouble);
  return list;
}

/**
 * What a killed writer left. Manifests get their names when they are whole: one that cannot be read, or is another
 * program's, was not being written.
 */
function leftBy(
  top: string,
  folder: PathText,
  name: PathText,
  tool: string,
): { unchained: Unchained } | { held: string } | null {
  const list = readHistoryList(toAbsolute(top, joinPath(folder, name)));
  if (list.bytes === 0) return { held: name };
  if (list.trouble !== null || list.tool !== tool) return null;
  return { unchained: { link: { number: generationNumber(name) ?? 0, file: name, c4: list.c4 }, list } };
}
