import { unlinkSync } from 'node:fs';
import { type ChainLink, renderChain } from '../../core/backup/chain.ts';
import { CHAIN_FILE, generationNumber, HISTORY_FOLDER, manifestName } from '../../core/backup/manifest-file-name.ts';
import type { Generation } from '../../core/backup/mhl-model.ts';
import { renderManifest } from '../../core/backup/mhl-xml.ts';
import { messageOf } from '../../core/fault.ts';
import { joinPath } from '../../core/intake/path-text.ts';
import type { Instant, PathText } from '../../core/model.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { prepareFolder, replace, writeNew } from './durable-write.ts';
import { type HistoryOutcome, readHistory } from './history-reader.ts';

/** A history that can go on. */
export type OpenHistory = Extract<HistoryOutcome, { ok: true }> & {
  /** What a killed writer left was put right: its manifest joined the chain, or the name that it held was freed. */
  repaired: boolean;
};

/** `taken`: another manifest has the next number; `unwritable`: the system refused. */
export type WriteOutcome =
  | { ok: true; link: ChainLink }
  | { ok: false; reason: 'taken' | 'unwritable'; file: PathText; detail: string };

/** Why a history cannot go on. */
export type HistoryFailure = Extract<HistoryOutcome | WriteOutcome, { ok: false }>;

/** Where a manifest is written, and what it is called after: the name of `root`'s folder (`historyName`). */
interface Place {
  top: string;
  root: PathText;
  name: string;
  startedAt: Instant;
}

/**
 * Reads a history to go on with it. What a killed writer left is put right first: its manifest, which is whole, joins the
 * chain. Never throws.
 */
export function openHistory(top: string, root: PathText, tool: string): OpenHistory | HistoryFailure {
  const read = readHistory(top, root, tool);
  if (!read.ok) return read;
  const folder = joinPath(root, HISTORY_FOLDER);
  try {
    const taken = read.strays.find((name) => (generationNumber(name) ?? 0) > read.chain.length);
    if (taken !== undefined) {
      const detail =
        'The chain does not name it, and its number comes after those that it names: move it away, or restore the chain.';
      return { ok: false, reason: 'taken', file: joinPath(folder, taken), detail };
    }
    if (read.held !== null) unlinkSync(toAbsolute(top, joinPath(folder, read.held)));
    const { unchained } = read;
    if (unchained === null) return { ...read, held: null, repaired: read.held !== null };
    const chain = [...read.chain, unchained.link];
    replace(top, joinPath(folder, CHAIN_FILE), renderChain(chain));
    read.history.add(unchained.list.files, unchained.list.ignore);
    return { ...read, chain, unchained: null, repaired: true };
  } catch (error) {
    return { ok: false, reason: 'unwritable', file: folder, detail: messageOf(error) };
  }
}

/**
 * Writes a generation: the manifest under a new name, then the chain with it. Killed between the two, the manifest is whole
 * and `openHistory` puts it into the chain. Never throws for what the system refuses. One writer at a time.
 * @param chain as `openHistory` read it
 */
export function writeGeneration(
  { top, root, name, startedAt }: Place,
  chain: readonly ChainLink[],
  generation: Generation,
): WriteOutcome {
  const folder = joinPath(root, HISTORY_FOLDER);
  const number = chain.length + 1;
  const file = manifestName(number, name, startedAt);
  const path = joinPath(folder, file);
  try {
    prepareFolder(top, folder);
    const link = { number, file, c4: writeNew(top, path, renderManifest(generation)) };
    replace(top, joinPath(folder, CHAIN_FILE), renderChain([...chain, link]));
    return { ok: true, link };
  } catch (error) {
    const isTaken = (error as NodeJS.ErrnoException).code === 'EEXIST';
    return { ok: false, reason: isTaken ? 'taken' : 'unwritable', file: path, detail: messageOf(error) };
  }
}
