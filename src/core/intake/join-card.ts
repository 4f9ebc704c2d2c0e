import type { PathText } from '../model.ts';
import type { Join, JoinCandidate } from './join-candidate.ts';
import { chainsOf, type Link } from './join-chain.ts';
import { dirName, stem } from './path-text.ts';
import type { PlaylistItem } from './playlist.ts';

/** A playlist of a card and the BDMV folder that it lies in. */
export interface CardPlaylist {
  folder: PathText;
  items: readonly PlaylistItem[];
}

/**
 * What a P2 card's clip list (CONTENTS/CLIP/0001AB.XML) says of a clip and its neighbours. Identifiers are compared as they
 * stand; `null`: the list does not say. Elements GlobalClipID, Relation/OffsetInShot, Connection/Top, Previous, Next (as
 * seen in public code; Previous and Next from memory).
 */
export interface CardRelation {
  unit: string;
  clip: string;
  /** The first clip of the recording. */
  top: string | null;
  previous: string | null;
  next: string | null;
  /** Edit units from the start of the recording, and of this clip. */
  offset: number | null;
  length: number | null;
}

/** AVCHD streams that a playlist of their card joins. */
export function playlistSpans(candidates: readonly JoinCandidate[], playlists: readonly CardPlaylist[]): Join[] {
  const folders = Map.groupBy(playlists, ({ folder }) => folder);
  return [...folders].flatMap(([folder, lists]) => {
    const streams = new Map<string, string>();
    for (const { unit, clip } of candidates) {
      const [path = ''] = clip.paths;
      if (/^stream$/i.test(lastOf(dirName(path))) && dirName(dirName(path)) === folder) streams.set(stem(path), unit);
    }
    return chainsOf(continuations(lists)).flatMap((chain) => spansOf(chain, streams, 'playlist-continuation'));
  });
}

/** One list may begin in the midst of a recording; but one that calls new what another continues says that it is wrong. */
function continuations(lists: readonly CardPlaylist[]): Link[] {
  const fresh = new Set(
    lists.flatMap(({ items }) => items.filter(({ begins }) => begins === 'recording').map(({ clip }) => clip)),
  );
  return lists.flatMap(({ items }) =>
    items.flatMap(({ clip, begins }, at): Link[] => {
      const before = items[at - 1];
      return before === undefined || begins !== 'continuation' || fresh.has(clip) ? [] : [[before.clip, clip]];
    }),
  );
}

/** P2 clips that name each other as parts of one recording. A contradiction between two of them parts them. */
export function relatedClips(candidates: readonly JoinCandidate[], relations: readonly CardRelation[]): Join[] {
  const units = new Set(candidates.map(({ unit }) => unit));
  const told = Map.groupBy(
    relations.filter(({ unit }) => units.has(unit)),
    ({ clip }) => clip,
  );
  // Two that go by one identifier are copies: which of them goes on is not known, and nothing is said of either.
  const here = [...told.values()].flatMap(([one, second]) => (one !== undefined && second === undefined ? [one] : []));
  const byClip = new Map(here.map((one) => [one.clip, one]));
  const isCopied = (clip: string) => told.has(clip) && !byClip.has(clip);
  const links = here.flatMap((one): Link[] => [
    ...(one.next === null ? [] : agreed(one, byClip.get(one.next), [one.clip, one.next])),
    ...(one.previous === null ? [] : agreed(one, byClip.get(one.previous), [one.previous, one.clip])),
  ]);
  const clear = links.filter((link) => !link.some(isCopied));
  const unitsHere = new Map(here.map(({ clip, unit }) => [clip, unit]));
  return chainsOf(clear).flatMap((chain) => spansOf(chain, unitsHere, 'card-relation'));
}

/** The link, unless its other end is told and says otherwise. */
function agreed(one: CardRelation, other: CardRelation | undefined, link: Link): Link[] {
  if (other === undefined) return [link];
  const [before, after] = link[0] === one.clip ? [one, other] : [other, one];
  const named = (before.next ?? after.clip) === after.clip && (after.previous ?? before.clip) === before.clip;
  const oneShot = before.top === null || after.top === null || before.top === after.top;
  const isGapless =
    before.offset === null || before.length === null || after.offset === null
      ? true
      : before.offset + before.length === after.offset;
  return named && oneShot && isGapless ? [link] : [];
}

function spansOf(
  chain: readonly string[],
  units: ReadonlyMap<string, string>,
  reason: 'playlist-continuation' | 'card-relation',
): Join[] {
  const present = chain.flatMap((name) => units.get(name) ?? []);
  const missing = chain.filter((name) => !units.has(name));
  return present.length < 2 ? [] : [{ units: present, how: 'spans', reason, missing }];
}

function lastOf(path: PathText): string {
  return path.slice(path.lastIndexOf('/') + 1);
}
