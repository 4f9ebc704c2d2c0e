import { formatBytes, formatCount } from '../units.ts';
import { copiesWords } from './card-copies.ts';
import { listsOnCardSentences } from './card-lists.ts';
import type { IsoTime } from './iso-time.ts';
import { keptSentence } from './kept-card.ts';
import { NO_LONGER_HERE, namesAndMore } from './lacking-words.ts';
import { listCheckWords, untrustedSentence } from './list-check.ts';
import { shortTime } from './sentences.ts';
import type { CardSnapshot, MissingSnapshot, UnseenSnapshot } from './snapshot-cards.ts';

/**
 * What a card or manifest holds, what of it has arrived where, and what has not; of a list whose contents are compared what
 * came of that. `at`: the snapshot's instant.
 */
export function cardSentence(card: CardSnapshot, at: IsoTime): string {
  const { check = null, gap } = card;
  const isCompared = check !== null && check.trouble === null;
  const arrived = isCompared ? listCheckWords(check) : `${arrivedWords(card)}${missingWords(card)}`;
  const parts = [
    `${titleOf(card)}${placeOf(card, at)}: ${arrived}.`,
    ...(check === null || check.trouble === null ? [] : [untrustedSentence(check.trouble)]),
    ...(gap === null ? [] : [`Not all of it could be read: ${gap}. What of it could not be read is not known.`]),
  ];
  return parts.join(' ');
}

/** How many verified copies there are of what has arrived of it; `null`: nothing has, or it was not looked up yet. */
export function copiesSentence({ source, files, copies = null, check = null }: CardSnapshot): string | null {
  if (copies === null || copies.files === 0) return null;
  const of = source === 'card' ? "this card's inventory" : 'this list';
  const matches = copies.files === 1 ? 'matches' : 'match';
  const match =
    check === null || check.trouble !== null
      ? `${copies.files} arrived and ${matches} it by name and size`
      : `${copies.files} ${copies.files === 1 ? 'is' : 'are'} in ${copies.files === 1 ? 'its place' : 'their places'}`;
  return `Of ${of} of ${formatCount(files, 'file')}, ${match}; ${copiesWords(copies)}.`;
}

/** All that is told of one. */
export function cardSentences(card: CardSnapshot, at: IsoTime): string[] {
  // A snapshot stored by an earlier version does not tell of lists.
  const { id, kept = null, lists = [] } = card;
  return [
    cardSentence(card, at),
    ...listsOnCardSentences(lists),
    copiesSentence(card),
    keptSentence(id, kept, at),
  ].filter((sentence) => sentence !== null);
}

/** Copied cards that were never seen: a sentence for each, and one for all folders that footage was copied into. */
export function unseenSentences(unseen: readonly UnseenSnapshot[]): string[] {
  const flat = unseen.filter(({ layout }) => layout === null).map(whereOf);
  const cards = unseen.flatMap((one) => (one.layout === null ? [] : [copiedCardSentence(one, one.layout)]));
  return [...cards, ...(flat.length === 0 ? [] : [flatSentence(flat)])];
}

function copiedCardSentence(one: UnseenSnapshot, layout: string): string {
  const { copies = null } = one;
  const files = copies?.files ?? 0;
  const of = files === 1 ? 'As for its only file here' : `Of its ${formatCount(files, 'file')} here`;
  const told = copies === null || files === 0 ? '' : ` ${of}, ${copiesWords(copies)}.`;
  return `The card itself was never read: ${whereOf(one)} (${layout}) arrived without it, and whether it is whole cannot be said.${told}`;
}

function flatSentence(folders: readonly string[]): string {
  const named = namesAndMore(folders);
  return `Footage has arrived without a card or a list of its files having been seen: ${named}. Whether it is whole cannot be said.`;
}

function whereOf({ volume, path }: UnseenSnapshot): string {
  return path === '' ? volume : `${path} on ${volume}`;
}

function titleOf({ source, name, layout, files, bytes, place, volume }: CardSnapshot): string {
  const size = bytes === null ? '' : `, ${formatBytes(bytes)}`;
  const amount = `${formatCount(files, 'file')}${size}`;
  if (source === 'manifest') return `List ${place}${volume === null ? '' : ` on ${volume}`} (${amount})`;
  return `Card ${name} (${layout === null ? '' : `${layout}, `}${amount})`;
}

function placeOf({ state, place, goneSince }: CardSnapshot, at: IsoTime): string {
  if (state === 'mounted') return `, mounted at ${place}`;
  if (state === 'manifest') return '';
  return goneSince === null ? ', not in now' : `, taken out at ${shortTime(goneSince, at)}`;
}

function arrivedWords(card: CardSnapshot): string {
  const { files, arrived, renamed, arriving, refused, removed, gap } = card;
  if (files === 0) return 'it has no files';
  const others = [
    ...(arriving > 0 ? [`${arriving} arriving`] : []),
    ...(refused > 0 ? [`${refused} there but refused, see the arrivals`] : []),
  ];
  const rest = others.length === 0 ? '' : `; ${others.join('; ')}`;
  const seen = lastSeenWords(card);
  if (arrived === 0) return `${removed > 0 ? 'none of it is here' : 'none of it has arrived'}${seen}${rest}`;
  const read = gap === null ? '' : ' that could be read';
  const one = files === 1 ? `its only file${read} has` : `all ${files}${read} have`;
  const count = arrived === files ? one : `${arrived} ${arrived === 1 ? 'has' : 'have'}`;
  const under = renamed === 0 ? '' : `, ${renamed} of them under another name`;
  return `${count} arrived${whereWords(card)} by name and size${under}${seen}${rest}`;
}

/** A snapshot stored by an earlier version does not tell. */
function lastSeenWords({ notLive = [] }: CardSnapshot): string {
  if (notLive.length === 0) return '';
  const named = (state: 'away' | 'starting') =>
    notLive.filter((one) => one.state === state).map(({ volume }) => volume);
  const told = [
    ...isAre(named('away'), 'away now'),
    ...isAre(named('starting'), 'read for the first time since the start'),
  ];
  return `, as last seen; ${told.join('; ')}`;
}

function isAre(volumes: readonly string[], what: string): string[] {
  if (volumes.length === 0) return [];
  return [`${namesAndMore(volumes)} ${volumes.length === 1 ? 'is' : 'are'} ${what}`];
}

function whereWords({ deliveries: [first], deliveryFolders }: CardSnapshot): string {
  if (first === undefined) return '';
  const where = first.path === '' ? `at the root of ${first.volume}` : `at ${first.path} on ${first.volume}`;
  return deliveryFolders < 2 ? ` ${where}` : ` ${where} and in ${formatCount(deliveryFolders - 1, 'other folder')}`;
}

function missingWords(card: CardSnapshot): string {
  const { missingFiles, missingFootage, removedFootage = 0, missing, missingHousekeeping, wasComplete } = card;
  const footage = missing.filter(({ role }) => role === 'footage');
  const removed = footage.filter(({ verdict }) => verdict === 'removed');
  const never = footage.filter(({ verdict }) => verdict !== 'removed');
  const neverCount = missingFootage - removedFootage;
  const companions = missing.filter(({ role }) => role === 'companion');
  const others = missingFiles - missingFootage;
  const own = formatCount(missingHousekeeping, "of the camera's own files", "of the camera's own files");
  return [
    ...(wasComplete && missingFootage > 0 ? ['; all its footage was here once'] : []),
    ...(neverCount === 0 ? [] : [`; footage not here: ${listed(never, neverCount)}`]),
    ...(removedFootage === 0 ? [] : [`; footage that ${NO_LONGER_HERE}: ${listed(removed, removedFootage)}`]),
    ...(others === 0 ? [] : [`; beside footage not here: ${listed(companions, others)}`]),
    ...(missingHousekeeping === 0 ? [] : [`; ${own} not here`]),
  ].join('');
}

/** Names are escaped in the snapshot. */
function listed(missing: readonly MissingSnapshot[], all: number): string {
  if (missing.length === 0) return formatCount(all, 'file');
  return `${formatCount(all, 'file')} (${namesAndMore(missing.map(nameAndSize), all)})`;
}

function nameAndSize({ path, bytes, foundBytes, foundAt }: MissingSnapshot): string {
  if (bytes === null) return path;
  const there = foundBytes === null || foundAt === null ? '' : `, but ${formatBytes(foundBytes)} at ${foundAt}`;
  return `${path} ${formatBytes(bytes)}${there}`;
}
