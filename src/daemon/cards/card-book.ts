import type { CardStorePort } from '../../core/card-ports.ts';
import type { EarlierReading } from '../../core/cards/card-identity.ts';
import { cardFileRole } from '../../core/cards/card-role.ts';
import type { Inventory, InventoryFile } from '../../core/cards/inventory.ts';
import type { InventoryListPort } from '../../core/cards/inventory-list.ts';
import type { KeptCard } from '../../core/cards/kept-card.ts';
import type { Clock } from '../../core/ports.ts';
import type { LedgerPort } from '../../core/store-ports.ts';
import { type CardEntry, newEntry, noteOf, restoreNote } from './card-entry.ts';

export interface CardBookDeps {
  ledger: Pick<LedgerPort, 'putInventory' | 'dropInventory'>;
  store: CardStorePort;
  keptLists: Pick<InventoryListPort, 'inventoryLists'>;
  clock: Clock;
  digest: (text: string) => string;
}

/** All inventories that are kept, in memory and in the ledger. Rejects when the ledger refuses: what is unsaved stays so. */
export interface CardBook {
  restore(): Promise<void>;
  entries(): CardEntry[];
  /** The entries as a reading is compared with them. */
  earlier(entries: readonly CardEntry[], mountPoint: string): Promise<EarlierReading[]>;
  /** Reads the files of an entry whose files lie in the ledger alone, and what of them had arrived. */
  open(entry: CardEntry): Promise<void>;
  /** `dropped`: the person did not want to hear of exactly this. */
  take(inventory: Omit<Inventory, 'takenAt'>): Promise<'new' | 'changed' | 'same' | 'dropped'>;
  /** Whether a reading tells nothing but what is known. */
  isKnown(entry: CardEntry, reading: Pick<Inventory, 'name' | 'layout' | 'gap' | 'files'>): boolean;
  mount(id: string, mountPoint: string): Promise<void>;
  leave(entry: CardEntry): void;
  drop(entry: CardEntry): Promise<void>;
  /** What a person said of a card, or that it does not hold any more; `null`: nothing holds. */
  say(entry: CardEntry, kept: KeptCard | null): Promise<void>;
  /** Writes what is unsaved of the entries; the notes of those alone whose note is `due`, or urgent. */
  save(due: (entry: CardEntry) => boolean): Promise<void>;
  /** A text kept for the cards as a whole, as it was at the start. */
  noteOf(key: string): string | null;
  keepNote(key: string, text: string): Promise<void>;
}

/** So many ids that were dropped are remembered. */
const MOST_DROPPED = 500;

export function createCardBook({ ledger, store, keptLists, clock, digest }: CardBookDeps): CardBook {
  const entries = new Map<string, CardEntry>();
  /** As they were at the start; taken up when the entry is opened. */
  const notes = new Map<string, string>();
  /** Content of what was dropped, by id: a card that is mounted is read again every minute. */
  let dropped = new Map<string, string>();

  function listOf(files: readonly InventoryFile[]): string {
    return digest(JSON.stringify(files.map(({ path, size, mtimeMs }) => [path, size, mtimeMs])));
  }

  async function open(entry: CardEntry): Promise<void> {
    if (entry.files !== null) return;
    entry.files = await store.inventoryFiles(entry.head.id);
    const note = notes.get(entry.head.id);
    if (note !== undefined) restoreNote(entry, note);
  }

  async function saveEntry(entry: CardEntry, isDue: boolean): Promise<void> {
    const { unsaved, files, head } = entry;
    if (files === null) return;
    if (unsaved.inventory) await ledger.putInventory({ ...head, files });
    unsaved.inventory = false;
    if (!unsaved.note || !(isDue || unsaved.urgent)) return;
    unsaved.note = false;
    unsaved.urgent = false;
    const text = noteOf(entry);
    notes.set(head.id, text);
    await store.putCardNote({ key: head.id, text }).catch((error: unknown) => {
      unsaved.note = true;
      throw error;
    });
  }

  return {
    async restore() {
      for (const { key, text } of await store.cardNotes()) notes.set(key, text);
      dropped = parseDropped(notes.get('dropped'));
      const listsOf = Map.groupBy(await keptLists.inventoryLists(), ({ inventory }) => inventory);
      for (const head of await store.inventoryHeads()) {
        const entry = newEntry(head, null);
        for (const list of listsOf.get(head.id) ?? []) entry.lists.set(list.place, { head: list, check: null });
        const note = notes.get(head.id);
        if (note !== undefined) restoreNote(entry, note);
        entries.set(head.id, entry);
      }
      for (const kept of await store.keptCards()) {
        const entry = entries.get(kept.inventory);
        if (entry !== undefined) entry.kept = kept;
      }
    },
    entries: () => [...entries.values()],
    async earlier(wanted, mountPoint) {
      const readings: EarlierReading[] = [];
      for (const { head, files, mountedAt } of wanted) {
        const known = files ?? (await store.inventoryFiles(head.id));
        readings.push({ id: head.id, files: known, sameMount: mountedAt === mountPoint });
      }
      return readings;
    },
    open,
    async take(inventory) {
      const { files, ...head } = inventory;
      if (dropped.has(head.id) && dropped.get(head.id) === listOf(files)) return 'dropped';
      const known = entries.get(head.id);
      if (known !== undefined) await open(known);
      if (known !== undefined && !isOther(known, inventory)) return 'same';
      const entry = known ?? newEntry({ ...head, takenAt: clock.now() }, files);
      if (!isSameFootage(entry.files ?? [], files)) {
        // More to wait for, perhaps: that begins anew, and the next pass finds out.
        entry.progress = null;
        entry.completeAt = null;
      }
      entry.head = { ...head, takenAt: clock.now() };
      entry.files = files;
      entry.candidates = null;
      entry.unsaved = { inventory: true, note: true, urgent: true };
      entries.set(head.id, entry);
      await saveEntry(entry, true);
      return known === undefined ? 'new' : 'changed';
    },
    isKnown: (entry, reading) => !isOther(entry, { ...entry.head, ...reading }),
    async mount(id, mountPoint) {
      const entry = entries.get(id);
      if (entry === undefined || entry.mountedAt === mountPoint) return;
      await open(entry);
      entry.mountedAt = mountPoint;
      entry.goneSince = null;
      entry.unsaved.note = true;
    },
    leave(entry) {
      entry.mountedAt = null;
      entry.goneSince = clock.now();
      entry.unsaved.note = true;
    },
    async drop(entry) {
      await open(entry);
      const { id } = entry.head;
      dropped.set(id, listOf(entry.files ?? []));
      const kept = [...dropped].slice(-MOST_DROPPED);
      await store.putCardNote({ key: 'dropped', text: JSON.stringify(kept) });
      await ledger.dropInventory(id);
      entries.delete(id);
      notes.delete(id);
    },
    async say(entry, kept) {
      if (kept === null) await store.dropKeptCard(entry.head.id);
      else await store.putKeptCard(kept);
      entry.kept = kept;
    },
    async save(due) {
      for (const entry of entries.values()) await saveEntry(entry, due(entry));
    },
    noteOf: (key) => notes.get(key) ?? null,
    async keepNote(key, text) {
      await store.putCardNote({ key, text });
    },
  };
}

/** Whether a reading says anything else than what is kept. When it was read is no matter. */
function isOther({ head, files }: CardEntry, now: Omit<Inventory, 'takenAt'>): boolean {
  if (head.name !== now.name || head.layout !== now.layout || head.place !== now.place || head.gap !== now.gap)
    return true;
  return files === null || !isSameList(files, now.files);
}

/** A camera writes its own files at every turn; they are nothing to wait for. */
function isSameFootage(before: readonly InventoryFile[], now: readonly InventoryFile[]): boolean {
  const isFootage = ({ path }: InventoryFile) => cardFileRole(path) === 'footage';
  return isSameList(before.filter(isFootage), now.filter(isFootage));
}

function isSameList(before: readonly InventoryFile[], now: readonly InventoryFile[]): boolean {
  if (before.length !== now.length) return false;
  return before.every((file, place) => {
    const other = now[place];
    return file.path === other?.path && file.size === other.size && file.mtimeMs === other.mtimeMs;
  });
}

function parseDropped(text: string | undefined): Map<string, string> {
  try {
    return new Map(JSON.parse(text ?? '[]') as [string, string][]);
  } catch {
    return new Map();
  }
}
