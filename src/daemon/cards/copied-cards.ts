import type { CardStorePort, CopyLookPort } from '../../core/card-ports.ts';
import { cardFileRole } from '../../core/cards/card-role.ts';
import { copiedCardOf } from '../../core/cards/card-signs.ts';
import type { CopyTally } from '../../core/cards/copy-tally.ts';
import type { Reconciliation } from '../../core/cards/reconciliation.ts';
import { type UnseenDelivery, unseenDeliveries } from '../../core/cards/unseen.ts';
import { kindOf } from '../../core/intake/kind.ts';
import { dirName } from '../../core/intake/path-text.ts';
import type { FileStat, Instant, PathText } from '../../core/model.ts';

/** A card is used again within days; after that nothing can be done about what was not seen of it. */
const KEPT_MS = 7 * 86_400_000;

/** So many of its files are asked for to find out whether the folder is still there. */
const SAMPLES = 20;

/** The copies of so many of them are looked up, the newest; each costs a look at all its files. */
const MOST_COUNTED = 100;

/** Folders that are remembered at most; the oldest are forgotten. */
const MOST = 1_000;

interface Copied {
  volume: string;
  root: PathText;
  layout: string | null;
  /** When a file of it came last. */
  at: Instant;
  /** Its card, or a manifest, is known. */
  covered: boolean;
  samples: PathText[];
}

/** Copied cards on the volumes, and which of them nobody saw as cards. */
export interface CopiedCards {
  /** Files came, at `at`. */
  note(volume: string, files: readonly FileStat[], at: Instant): void;
  /** Whether some may have to be covered or have gone: a reason to look. */
  isWaiting(): boolean;
  /** Sets them beside the inventories and what is still there. */
  update(
    reconciliations: readonly Reconciliation[],
    store: Pick<CardStorePort, 'filesAt'>,
    now: Instant,
  ): Promise<void>;
  /** Looks up the copies of those that are not covered: `again`, or where something came, or `round` is another. */
  count(look: Pick<CopyLookPort, 'copiesBelow'>, round: number, again: boolean): Promise<void>;
  /** Those that no inventory speaks of and into which nothing has come for `quietMs`. */
  unseen(now: Instant, quietMs: number): UnseenDelivery[];
  /** Text to keep; `null` when nothing changed since it was asked for last. */
  toKeep(): string | null;
  restore(text: string): void;
}

export function createCopiedCards(): CopiedCards {
  const known = new Map<string, Copied>();
  const counted = new WeakMap<Copied, { mark: string; tally: CopyTally }>();
  let changed = false;

  function noteFile(volume: string, path: PathText, at: Instant): void {
    const copied = copiedCardOf(path) ?? flatCopyOf(path);
    if (copied === null || cardFileRole(path) !== 'footage') return;
    const key = `${volume}\n${copied.root}`;
    const one = known.get(key) ?? { volume, ...copied, at, covered: false, samples: [] };
    if (one.samples.length < SAMPLES && !one.samples.includes(path)) one.samples.push(path);
    one.at = Math.max(one.at, at);
    known.set(key, one);
    changed = true;
    const [first] = known.keys();
    if (known.size > MOST && first !== undefined) known.delete(first);
  }

  function drop(isOver: (one: Copied) => boolean): void {
    for (const [key, one] of known) {
      if (!isOver(one)) continue;
      known.delete(key);
      changed = true;
    }
  }

  return {
    note(volume, files, at) {
      for (const { path } of files) noteFile(volume, path, at);
    },
    isWaiting: () => known.values().some(({ covered }) => !covered),
    async update(reconciliations, store, now) {
      drop(({ at }) => now - at > KEPT_MS);
      const open = [...known.values()].filter(({ covered }) => !covered);
      const unseen = new Set(unseenDeliveries(open, reconciliations));
      for (const one of open) {
        if (unseen.has(one)) continue;
        one.covered = true;
        changed = true;
      }
      const places = [...unseen].flatMap(({ volume, root }) =>
        (known.get(`${volume}\n${root}`)?.samples ?? []).map((path) => ({ volume, path })),
      );
      const there = new Set((await store.filesAt(places)).map(({ volume, path }) => `${volume}\n${path}`));
      drop(
        (one) => !one.covered && open.includes(one) && !one.samples.some((path) => there.has(`${one.volume}\n${path}`)),
      );
    },
    async count(look, round, again) {
      const open = [...known.values()].filter(({ covered, root }) => !covered && root !== '');
      for (const one of open.toSorted((a, b) => b.at - a.at).slice(0, MOST_COUNTED)) {
        const mark = `${round} ${one.at}`;
        const before = counted.get(one);
        // Nothing was ready in it yet.
        if (!again && before?.mark === mark && before.tally.files > 0) continue;
        counted.set(one, { mark, tally: await look.copiesBelow(one.volume, one.root, one.layout !== null) });
      }
    },
    unseen: (now, quietMs) =>
      [...known.values()]
        .filter(({ covered, at }) => !covered && now - at >= quietMs)
        .map((one) => {
          const { volume, root, layout } = one;
          return { volume, root, layout, copies: counted.get(one)?.tally ?? null };
        }),
    toKeep() {
      if (!changed) return null;
      changed = false;
      return JSON.stringify([...known.values()]);
    },
    restore(text) {
      for (const one of parse(text)) known.set(`${one.volume}\n${one.root}`, one);
    },
  };
}

/** Recordings that lie in a folder by themselves. Stills do as graphics too. */
function flatCopyOf(path: PathText): { root: PathText; layout: null } | null {
  const { kind } = kindOf(path);
  return kind === 'original' || kind === 'sound' ? { root: dirName(path), layout: null } : null;
}

function parse(text: string): Copied[] {
  try {
    return JSON.parse(text) as Copied[];
  } catch {
    return [];
  }
}
