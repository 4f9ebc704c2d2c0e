import type { PathText } from '../model.ts';
import { readTags } from './container/wave-tags.ts';
import { unitOf } from './group.ts';
import type { CardLists } from './join.ts';
import type { CardRelation } from './join-card.ts';
import { type PlaylistItem, parsePlaylist } from './playlist.ts';

/** What a list on a card says, as it is kept. */
export type CardList =
  | { type: 'playlist'; items: PlaylistItem[] }
  | { type: 'relation'; relation: Omit<CardRelation, 'unit'> };

/** The longest list that is read: those of cards have some kilobytes. */
export const MOST_LIST_BYTES = 1_048_576;

/** AVCHD playlists and P2 clip lists, in the folders of their cards (core/intake/card-layout.ts has the sources). */
const PLAYLIST = /^((?:.*\/)?bdmv)\/playlist\/[^/]+\.(?:mpl|mpls)$/is;
const RELATION = /^((?:.*\/)?contents)\/clip\/[0-9a-z]{6}\.xml$/is;

/** The card's folder within which a list names clips; `null`: the file is none that is read here. */
export function listScope(path: PathText): PathText | null {
  return (PLAYLIST.exec(path) ?? RELATION.exec(path))?.[1] ?? null;
}

/** Reads a list; `null`: it is not what its name says, or says nothing that joins clips. Any bytes are taken. */
export function parseCardList(path: PathText, bytes: Uint8Array): CardList | null {
  if (PLAYLIST.test(path)) {
    const items = parsePlaylist(bytes);
    return items === null ? null : { type: 'playlist', items };
  }
  const relation = relationOf(new TextDecoder().decode(bytes));
  return relation === null ? null : { type: 'relation', relation };
}

/** Puts the lists of one card together. */
export function cardLists(lists: readonly { path: PathText; list: CardList }[]): CardLists {
  return {
    playlists: lists.flatMap(({ path, list }) =>
      list.type === 'playlist' ? [{ folder: listScope(path) ?? '', items: list.items }] : [],
    ),
    relations: lists.flatMap(({ path, list }) =>
      list.type === 'relation' ? [{ ...list.relation, unit: unitOf(path, 'sidecar') }] : [],
    ),
  };
}

const CLIP = 'P2Main/ClipContent';
const RELATED = `${CLIP}/Relation`;
const FIELDS = {
  clip: `${CLIP}/GlobalClipID`,
  length: `${CLIP}/Duration`,
  offset: `${RELATED}/OffsetInShot`,
  top: `${RELATED}/Connection/Top/GlobalClipID`,
  previous: `${RELATED}/Connection/Previous/GlobalClipID`,
  next: `${RELATED}/Connection/Next/GlobalClipID`,
} as const;

/** The elements that `CardRelation` names, at these places: from memory. A list without neighbours joins nothing. */
function relationOf(xml: string): Omit<CardRelation, 'unit'> | null {
  const { values } = readTags(xml, new Set(Object.values(FIELDS)));
  const text = (field: keyof typeof FIELDS) => values.get(FIELDS[field]) ?? null;
  const count = (field: keyof typeof FIELDS) => {
    const told = text(field);
    return told !== null && /^\d{1,12}$/.test(told) ? Number(told) : null;
  };
  const clip = text('clip');
  const [previous, next] = [text('previous'), text('next')];
  if (clip === null || (previous === null && next === null)) return null;
  return { clip, top: text('top'), previous, next, offset: count('offset'), length: count('length') };
}
