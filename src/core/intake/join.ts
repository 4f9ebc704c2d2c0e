import { isCopyName, type Join, type JoinCandidate, type JoinRule, standingOf, tracksOf } from './join-candidate.ts';
import { type CardPlaylist, type CardRelation, playlistSpans, relatedClips } from './join-card.ts';
import { brokenFolders, soundOfFrames } from './join-frames.ts';
import { soundFamilies, soundSpans, soundTakes } from './join-sound.ts';
import { gaplessSplits } from './join-split.ts';

/** What lists of the card say of its clips. */
export interface CardLists {
  playlists: readonly CardPlaylist[];
  relations: readonly CardRelation[];
}

const NO_LISTS: CardLists = { playlists: [], relations: [] };

/**
 * Finds clips of one folder, or one card, that are one take by what they carry, where names alone do not tell. Each unit is
 * in one join at most: the stronger proof comes first. What could be read in two ways is not joined. Any order of
 * candidates gives the same answer, and a join is the same when only its own members are looked at.
 */
export function joinTakes(candidates: readonly JoinCandidate[], lists: CardLists = NO_LISTS): Join[] {
  const rules: JoinRule[] = [
    materialPackages,
    (open) => playlistSpans(open, lists.playlists),
    (open) => relatedClips(open, lists.relations),
    soundFamilies,
    soundTakes,
    soundSpans,
    gaplessSplits,
    brokenFolders,
    soundOfFrames,
  ];
  let open = candidates.filter((each) => !isCopyName(each)).toSorted((a, b) => (a.unit < b.unit ? -1 : 1));
  const joins: Join[] = [];
  for (const rule of rules) {
    const found = [...Map.groupBy(open, standingOf).values()].flatMap(rule);
    const taken = new Set(found.flatMap(({ units }) => units));
    open = open.filter(({ unit }) => !taken.has(unit));
    joins.push(...found);
  }
  return joins.toSorted((a, b) => ((a.units[0] ?? '') < (b.units[0] ?? '') ? -1 : 1));
}

/**
 * MXF with one essence a file (OP-Atom, ST 390): picture and sound of a take share the material package, whose UMID is unique
 * in the world (ST 330). Two pictures under one are versions or copies: then nothing is joined.
 */
function materialPackages(candidates: readonly JoinCandidate[]): Join[] {
  const named = candidates.filter(({ ties }) => ties.materialPackage !== null && /[^0]/.test(ties.materialPackage));
  return [...Map.groupBy(named, ({ ties }) => ties.materialPackage).values()].flatMap((members) => {
    const pictures = members.filter(({ clip }) => clip.facts.width !== null);
    return pictures.length > 1 ? [] : (tracksOf(members, 'one-material-package') ?? []);
  });
}
