import type { FileHandle } from 'node:fs/promises';
import { HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import type { KnownListOutcome, ListPlace } from '../../core/cards/known-list.ts';
import { baseName } from '../../core/intake/path-text.ts';
import { display } from '../../core/present/escape.ts';
import { toAbsolute } from '../base/byte-path.ts';
import { openUnnoted } from '../base/open-unnoted.ts';
import { readHistory } from './history-reader.ts';
import { failureOf, LIST_FLAGS, readList } from './read-manifest.ts';

/** No program is called so. */
const NOBODY = '\0';

const REASONS = {
  'not-a-manifest': 'no-list',
  damaged: 'unusable',
  'too-large': 'unusable',
  unreadable: 'unreadable',
} as const;

/**
 * What a list says of contents: a history (`place` is its folder) with its chain, or one list. Partly synchronous: for a
 * process of its own. Never rejects.
 */
export async function readKnownList(root: string, { place, base }: ListPlace): Promise<KnownListOutcome> {
  if (baseName(place) === HISTORY_FOLDER) return historyOf(root, base);
  let handle: FileHandle | null = null;
  try {
    handle = await openUnnoted(toAbsolute(root, place), LIST_FLAGS);
    const listed = await readList(handle, baseName(place));
    const files = listed.files.map(({ path, size }) => ({ path, size, sums: listed.sumsOf(path) }));
    return { ok: true, list: { kind: 'list', files, ignore: [] }, gap: listed.gap };
  } catch (error) {
    const { reason, detail } = failureOf(error);
    return { ok: false, reason: REASONS[reason], detail: `${display(place)}: ${detail}` };
  } finally {
    await handle?.close().catch(() => {});
  }
}

/** A generation that the chain does not name yet is not taken, whoever wrote it. */
function historyOf(root: string, base: string): KnownListOutcome {
  const read = readHistory(root, base, NOBODY);
  if (!read.ok) {
    const reason = read.reason === 'unreadable' ? 'unreadable' : 'unusable';
    return { ok: false, reason, detail: `${display(read.file)}: ${read.detail}` };
  }
  const files = [...read.history.files.values()].map(({ path, size, values }) => ({ path, size, sums: values }));
  return { ok: true, list: { kind: 'history', files, ignore: [...read.history.ignore] }, gap: null };
}
