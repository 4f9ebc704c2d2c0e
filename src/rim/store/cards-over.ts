import type { CardStorePort, CopyLookPort } from '../../core/card-ports.ts';
import { type CopyTally, sumTallies } from '../../core/cards/copy-tally.ts';
import type { Candidate } from '../../core/cards/inventory.ts';
import type { InventoryListPort } from '../../core/cards/inventory-list.ts';
import type { ArrivedVersion, SumStorePort } from '../../core/cards/known-list.ts';
import { LOOKED_UP, type WorkerCalls } from './worker-calls.ts';

export type CardsStore = CardStorePort & CopyLookPort & SumStorePort & InventoryListPort;

/** The part of the store that knows of cards and of lists that came with footage. */
export function cardsOver(calls: WorkerCalls): CardsStore {
  return {
    inventoryHeads: async () => (await calls.call('inventoryHeads', null)).list,
    inventoryFiles: async (id) => (await calls.call('inventoryFiles', { id })).list,
    async filesAt(places) {
      const found: Candidate[] = [];
      for (const some of inParts(places)) {
        for (const one of (await calls.call('filesAt', null, some)).list) found.push(one);
      }
      return found;
    },
    async copiesAt(places) {
      const parts: CopyTally[] = [];
      for (const some of inParts(places)) parts.push((await calls.call('copiesAt', null, some)).value);
      return sumTallies(parts);
    },
    copiesBelow: async (volume, folder, deep) => (await calls.call('copiesBelow', { volume, folder, deep })).value,
    async versionsAt(places) {
      const found: ArrivedVersion[] = [];
      for (const some of inParts(places)) {
        for (const one of (await calls.call('versionsAt', null, some)).list) found.push(one);
      }
      return found;
    },
    async versionsBelow(volume, folder, most) {
      const { value, list } = await calls.call('versionsBelow', { volume, folder, most });
      return value ? list : null;
    },
    putRead: async (versions) => void (await calls.call('putRead', null, [...versions])),
    inventoryLists: async () => (await calls.call('inventoryLists', null)).list,
    inventoryListFiles: async (inventory, place) => (await calls.call('inventoryListFiles', { inventory, place })).list,
    putInventoryList: async (head, files) => void (await calls.call('putInventoryList', head, [...files])),
    keptCards: async () => (await calls.call('keptCards', null)).list,
    putKeptCard: async (kept) => void (await calls.call('putKeptCard', kept)),
    dropKeptCard: async (inventory) => (await calls.call('dropKeptCard', { inventory })).value,
    cardNotes: async () => (await calls.call('cardNotes', null)).list,
    async putCardNote(note) {
      await calls.call('putCardNote', note);
    },
  };
}

/** A full card takes a while: others get their turn in between. */
function* inParts<Item>(items: readonly Item[]): Generator<Item[]> {
  for (let at = 0; at < items.length; at += LOOKED_UP) yield items.slice(at, at + LOOKED_UP);
}
