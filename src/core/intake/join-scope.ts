import type { Clip, PathText } from '../model.ts';
import { isSplitSize } from './join-split.ts';
import { dirName } from './path-text.ts';

/** What a clip shows of whether, and among which others, it may be a part of a take. */
export type ScopedClip = Pick<Clip, 'paths' | 'kind' | 'facts' | 'ties' | 'parts' | 'essenceBytes'>;

/** The folder of a card within which its lists name clips: BDMV (AVCHD) and CONTENTS (P2). */
const CARD_FOLDER = /^((?:.*\/)?(?:bdmv|contents))\/(?:stream|video|audio)$/is;

/**
 * Whether a clip carries anything that `joinTakes` starts from. Most clips of most cameras do not: of them nothing has to be
 * looked for, which is what this is for. A clip that others go on in, or that goes on from them, need not carry it itself.
 */
export function mayJoin({ paths: [path = ''], kind, facts, ties, parts, essenceBytes }: ScopedClip): boolean {
  if (parts === 'frames' || CARD_FOLDER.test(dirName(path))) return true;
  // With one operational pattern all tracks of a take are in one file: others that name its package are copies of it.
  if (ties.materialPackage !== null && facts.container !== 'MXF OP1a') return true;
  if (kind === 'sound' || (facts.width === null && (facts.audioTracks ?? 0) > 0)) return true;
  return isSplitSize(essenceBytes) && facts.startTimecode !== null;
}

/**
 * Folders within which others of the take are looked for: its own; of numbered frames also the one above, where the next
 * folder and the sound may lie; on a card the card's alone, for only there its lists are at hand.
 */
export function scopesOf({ paths: [path = ''], parts }: Pick<Clip, 'paths' | 'parts'>): PathText[] {
  const folder = dirName(path);
  const card = CARD_FOLDER.exec(folder)?.[1];
  if (card !== undefined) return [card];
  return parts === 'frames' && folder !== '' ? [folder, dirName(folder)] : [folder];
}
