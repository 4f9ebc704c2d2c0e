import type {
  CardListOutcome,
  CardListPort,
  InventoryListHead,
  InventoryListPort,
  ListOnCard,
} from '../../core/cards/inventory-list.ts';
import { listStamp } from '../../core/cards/inventory-list.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import { formatCount } from '../../core/units.ts';
import type { CardBook } from './card-book.ts';
import type { CardEntry } from './card-entry.ts';
import type { CardRead } from './inventory-taker.ts';

/** Of one card so many lists are read: more are no lists of a card as a whole. */
const MOST_LISTS = 100;

export interface CardListReadsDeps {
  book: Pick<CardBook, 'entries'>;
  cardLists: CardListPort;
  keptLists: Pick<InventoryListPort, 'putInventoryList'>;
  /** Does something with the book while nobody else does; failures are told. */
  exclusive: (work: () => Promise<void>) => Promise<void>;
  clock: Pick<Clock, 'now'>;
  log: Log;
  digest: (text: string) => string;
}

/** Has the lists on mounted cards read, and keeps what they say: the card may be pulled at any time. */
export interface CardListReads {
  /** A card was looked at, and its inventory taken: what of its lists is not known as it is now is read. */
  seen(mountPoint: string, reading: CardRead): void;
  /** What is still read is not kept. */
  stop(): void;
}

export function createCardListReads({
  book,
  cardLists,
  keptLists,
  exclusive,
  clock,
  log,
  digest,
}: CardListReadsDeps): CardListReads {
  const underWay = new Set<string>();
  /** Stamps of what gave nothing to keep, by inventory and place: the same would come of it again. */
  const refused = new Map<string, string>();
  let stopped = false;

  async function read(
    entry: CardEntry,
    list: ListOnCard,
    { mountPoint, reading }: Mounted,
    stamp: string,
  ): Promise<void> {
    const key = keyOf(entry, list);
    underWay.add(key);
    const { device, ino } = reading;
    const outcome = await cardLists.read({ mountPoint, device, ino }, list);
    if (stopped) return;
    await exclusive(async () => {
      // It may have been dropped meanwhile.
      if (book.entries().includes(entry)) await take(entry, list, outcome, stamp);
    });
    underWay.delete(key);
  }

  async function take(entry: CardEntry, list: ListOnCard, outcome: CardListOutcome, stamp: string): Promise<void> {
    const known = entry.lists.get(list.place);
    tell(entry, list, outcome, known?.head);
    if (outcome.is === 'no-list' || outcome.is === 'unusable') refused.set(keyOf(entry, list), stamp);
    if (outcome.is !== 'read' && known?.head.state === 'whole') return;
    const head = headOf(entry, list, outcome, stamp);
    if (head === null || (outcome.is === 'unread' && known?.head.detail === head.detail)) return;
    await keptLists.putInventoryList(head, outcome.is === 'read' ? outcome.list.files : []);
    entry.lists.set(list.place, { head, check: known?.check ?? null });
  }

  function headOf(
    { head: { id } }: CardEntry,
    { place, base }: ListOnCard,
    outcome: CardListOutcome,
    stamp: string,
  ): InventoryListHead | null {
    const common = { inventory: id, place, base, readAt: clock.now() };
    if (outcome.is === 'read') {
      const {
        list: { kind, files },
        gap,
      } = outcome;
      return { ...common, kind, state: 'whole', detail: null, gap, stamp, listed: files.length };
    }
    if (outcome.is === 'no-list') return null;
    const { detail } = outcome;
    // What could not be read is asked for again as it is.
    return {
      ...common,
      kind: 'list',
      state: outcome.is,
      detail,
      gap: null,
      stamp: outcome.is === 'unread' ? '' : stamp,
      listed: 0,
    };
  }

  /** A name alone is no promise; what calls itself a list and cannot be used must be said. */
  function tell(
    { head: { id, name } }: CardEntry,
    { place }: ListOnCard,
    outcome: CardListOutcome,
    known?: InventoryListHead,
  ): void {
    const where = `${display(place)} on card ${display(name)}`;
    const fields = { event: 'card-list', id, place, is: outcome.is };
    if (outcome.is === 'read') {
      log.info(fields, `List read: ${where}: ${formatCount(outcome.list.files.length, 'file')}.`);
      return;
    }
    const message = `${where}: ${display(outcome.detail)}`;
    if (outcome.is === 'no-list') log.debug(fields, message);
    else if (outcome.is === 'unusable') log.warn(fields, `Not usable as a list: ${message}`);
    // Every minute the same is no news.
    else if (known?.detail !== outcome.detail)
      log.warn(fields, `List not read: ${message}. It is tried again while the card is in.`);
  }

  /** Said once of a card. */
  function tellMore({ head: { id, name } }: CardEntry, count: number): void {
    if (refused.get(id) === `${count}`) return;
    refused.set(id, `${count}`);
    const fields = { event: 'card-lists', id, count };
    log.warn(fields, `Card ${display(name)} has ${count} lists; only the first ${MOST_LISTS} are read.`);
  }

  return {
    seen(mountPoint, reading) {
      const entry = book.entries().find(({ mountedAt }) => mountedAt === mountPoint);
      if (entry === undefined) return;
      if (reading.lists.length > MOST_LISTS) tellMore(entry, reading.lists.length);
      for (const list of reading.lists.slice(0, MOST_LISTS)) {
        const key = keyOf(entry, list);
        const stamp = digest(listStamp(list));
        const isKnown = entry.lists.get(list.place)?.head.stamp === stamp || refused.get(key) === stamp;
        if (!isKnown && !underWay.has(key)) void read(entry, list, { mountPoint, reading }, stamp);
      }
    },
    stop() {
      stopped = true;
    },
  };
}

interface Mounted {
  mountPoint: string;
  reading: CardRead;
}

function keyOf({ head: { id } }: CardEntry, { place }: ListOnCard): string {
  return `${id}\n${place}`;
}
