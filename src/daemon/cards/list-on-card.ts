import { type CardListCheck, checkCardList, listedPlaces } from '../../core/cards/card-list-check.ts';
import type { InventoryListHead, InventoryListPort } from '../../core/cards/inventory-list.ts';
import type { KnownList, SumStorePort } from '../../core/cards/known-list.ts';
import type { Clock } from '../../core/ports.ts';
import type { CardEntry } from './card-entry.ts';
import type { Comparison } from './list-comparison.ts';

export interface ListOnCardDeps {
  keptLists: Pick<InventoryListPort, 'inventoryListFiles'>;
  contents: Pick<SumStorePort, 'versionsAt'>;
  clock: Pick<Clock, 'now'>;
}

/** A list that lies, or lay, on a card, beside what arrived of the card. What it says is in the ledger: the card is not asked. */
export function listOnCard(
  { clock, contents, keptLists }: ListOnCardDeps,
  entry: CardEntry,
  { inventory, place, base, kind }: InventoryListHead,
  mark: string,
): Comparison<CardListCheck> {
  return {
    ...{ key: `${inventory}\n${place}`, entry, place, mark, mayMove: false },
    known: () => entry.lists.get(place)?.check ?? null,
    async open() {
      const list: KnownList = { kind, files: await keptLists.inventoryListFiles(inventory, place), ignore: [] };
      return async () => {
        const where = listedPlaces(list, base, entry.reconciliation ?? { files: [] });
        const now = await contents.versionsAt([...where.values()].flatMap(({ places }) => places));
        return checkCardList({ list, base, where, now }, mark, clock.now());
      };
    },
    keep(check) {
      const list = entry.lists.get(place);
      if (list !== undefined) list.check = check;
    },
    settled() {},
  };
}
