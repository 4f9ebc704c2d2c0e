import type { KeptPlan } from '../../src/core/assess/kept-plans.ts';
import type { VolumeMoment } from '../../src/core/assess/moments.ts';
import type { CardNote, CardStorePort } from '../../src/core/card-ports.ts';
import type { Inventory } from '../../src/core/cards/inventory.ts';
import type { InventoryListHead, InventoryListPort } from '../../src/core/cards/inventory-list.ts';
import type { KeptCard } from '../../src/core/cards/kept-card.ts';
import type { KnownListed } from '../../src/core/cards/known-list.ts';
import type { KeptGrowth, KeptSample, LedgerPort, Removal, StoredAdvisory } from '../../src/core/store-ports.ts';

export interface FakeLedger extends LedgerPort, InventoryListPort, Omit<CardStorePort, 'filesAt'> {
  /** As the catalogue books what it removes. */
  book(volume: string, removed: Removal): void;
  /** As if the file had been damaged. */
  lose(): void;
}

/** A ledger in memory. */
export function fakeLedger(): FakeLedger {
  let state: 'sound' | 'lost' = 'sound';
  let stored: readonly StoredAdvisory[] = [];
  let samples: KeptSample[] = [];
  const growth = new Map<string, KeptGrowth>();
  const moments = new Map<string, Map<number, VolumeMoment>>();
  const inventories = new Map<string, Inventory>();
  const removals = new Map<string, Removal & { volume: string }>();
  let plans: KeptPlan[] = [];
  const notes = new Map<string, CardNote>();
  const kept = new Map<string, KeptCard>();
  const lists = new Map<string, { head: InventoryListHead; files: KnownListed[] }>();
  const listKey = (inventory: string, place: string) => `${inventory}\0${place}`;
  const newestFirst = () =>
    [...inventories.values()].sort((one, other) => other.takenAt - one.takenAt || (one.id < other.id ? -1 : 1));
  return {
    condition: async () => state,
    advisories: async () => structuredClone(stored),
    async putAdvisories(advisories) {
      stored = structuredClone([...advisories]);
    },
    book(volume, removed) {
      const { hour, area, project } = removed;
      const key = JSON.stringify([volume, hour, area, project]);
      const before = removals.get(key) ?? { files: 0, bytes: 0, footageBytes: 0 };
      removals.set(key, {
        ...removed,
        volume,
        files: before.files + removed.files,
        bytes: before.bytes + removed.bytes,
        footageBytes: before.footageBytes + removed.footageBytes,
      });
    },
    async removals(volume, since) {
      const order = ({ hour, area, project }: Removal) => JSON.stringify([hour, area, project ?? '']);
      return [...removals.values()]
        .filter((each) => each.volume === volume && each.hour >= since)
        .sort((one, other) => (order(one) < order(other) ? -1 : 1))
        .map(({ volume: _, ...each }) => each);
    },
    speedSamples: async () => structuredClone(samples),
    async putSpeedSample(kept) {
      const { volume, at } = kept.sample;
      const others = samples.filter(({ sample }) => sample.volume !== volume || sample.at !== at);
      samples = [...others, structuredClone(kept)].sort((one, other) => one.sample.at - other.sample.at);
    },
    async growth(volume, sinceHour) {
      const { mark = null, hours = [] } = growth.get(volume) ?? {};
      return structuredClone({ mark, hours: hours.filter(({ hour }) => hour >= sinceHour) });
    },
    async putGrowth(volume, mark, hours) {
      const others = (growth.get(volume)?.hours ?? []).filter((one) => !hours.some(({ hour }) => hour === one.hour));
      const all = [...others, ...hours].sort((one, other) => one.hour - other.hour);
      growth.set(volume, structuredClone({ mark, hours: all }));
    },
    moments: async (volume, grain, since) =>
      structuredClone(
        [...(moments.get(`${grain} ${volume}`)?.values() ?? [])]
          .filter(({ at }) => at >= since)
          .sort((one, other) => one.at - other.at),
      ),
    async putMoments(volume, grain, some, forget) {
      const known = moments.get(`${grain} ${volume}`) ?? new Map<number, VolumeMoment>();
      moments.set(`${grain} ${volume}`, known);
      for (const one of some) known.set(one.at, structuredClone(one));
      const minutes = moments.get(`minute ${volume}`) ?? new Map<number, VolumeMoment>();
      for (const at of [...minutes.keys()]) if (forget !== null && at < forget) minutes.delete(at);
    },
    plans: async () => structuredClone(plans),
    async putPlan(kept) {
      plans = [...plans, structuredClone(kept)].sort((one, other) => one.at - other.at);
    },
    async dropPlans(project) {
      const before = plans.length;
      plans = plans.filter(({ plan }) => plan.project !== project);
      return before - plans.length;
    },
    inventories: async () => structuredClone(newestFirst()),
    async putInventory(inventory) {
      inventories.set(inventory.id, structuredClone(inventory));
    },
    async dropInventory(id) {
      notes.delete(id);
      kept.delete(id);
      for (const [key, { head }] of lists) if (head.inventory === id) lists.delete(key);
      return inventories.delete(id);
    },
    inventoryHeads: async () => structuredClone(newestFirst()).map(({ files, ...head }) => head),
    inventoryFiles: async (id) => structuredClone(inventories.get(id)?.files ?? []),
    async inventoryLists() {
      const inOrder = [...lists].sort(([one], [other]) => (one < other ? -1 : 1));
      return structuredClone(inOrder.map(([, { head }]) => head));
    },
    inventoryListFiles: async (inventory, place) => structuredClone(lists.get(listKey(inventory, place))?.files ?? []),
    async putInventoryList(head, files) {
      const key = listKey(head.inventory, head.place);
      const isWhole = lists.get(key)?.head.state === 'whole';
      if (!inventories.has(head.inventory) || (isWhole && head.state !== 'whole')) return;
      lists.set(key, structuredClone({ head, files: [...files] }));
    },
    keptCards: async () => [...kept.values()].sort((one, other) => (one.inventory < other.inventory ? -1 : 1)),
    async putKeptCard(said) {
      kept.set(said.inventory, { ...said });
    },
    dropKeptCard: async (inventory) => kept.delete(inventory),
    cardNotes: async () => [...notes.values()].sort((one, other) => (one.key < other.key ? -1 : 1)),
    async putCardNote(note) {
      notes.set(note.key, { ...note });
    },
    lose() {
      state = 'lost';
    },
  };
}
