import type { CopyLookPort } from '../../core/card-ports.ts';
import { type CopyTally, NO_FILES } from '../../core/cards/copy-tally.ts';
import { exposedOn, isKept, type OnCards } from '../../core/cards/kept-card.ts';
import { arrivedFiles } from './card-copies.ts';
import type { CardEntry } from './card-entry.ts';

/** What of the footage on the volumes lies on cards that a person said are kept. */
export interface KeptCards {
  /** `round` is another: there may be other copies. */
  update(entries: readonly CardEntry[], round: number): Promise<void>;
  /** By volume, each of which is in it; `null`: not looked up yet. */
  onCards(entries: readonly CardEntry[], volumes: readonly string[]): Map<string, OnCards> | null;
}

export interface KeptCardsDeps {
  look: Pick<CopyLookPort, 'copiesAt'>;
  digest: (text: string) => string;
  /** Verified copies that are wanted of what lies on a volume. */
  wantedCopies: (volume: string) => number;
}

export function createKeptCards({ look, digest, wantedCopies }: KeptCardsDeps): KeptCards {
  let known: { mark: string; tally: CopyTally } | null = null;
  return {
    async update(entries, round) {
      const found = entries.flatMap(({ kept, reconciliation }) =>
        isKept(kept) && reconciliation !== null ? arrivedFiles(reconciliation) : [],
      );
      // Two inventories of one card speak of the same files.
      const places = [...new Map(found.map((file) => [`${file.volume}\0${file.path}`, file])).values()];
      const mark = digest(JSON.stringify([round, places]));
      if (known?.mark === mark) return;
      const tally =
        places.length === 0 ? NO_FILES : await look.copiesAt(places.map(({ volume, path }) => ({ volume, path })));
      known = { mark, tally };
    },
    onCards(entries, volumes) {
      if (known === null) return null;
      const { exposable } = known.tally;
      return new Map(
        volumes.map((volume) => {
          const cards = entries.flatMap(({ head, kept, copies }) => {
            const isOn = isKept(kept) && exposedOn(copies?.tally.exposable ?? [], volume, wantedCopies(volume)) > 0;
            return isOn ? [{ name: head.name, saidAt: kept.saidAt, saidBy: kept.saidBy }] : [];
          });
          return [volume, { bytes: exposedOn(exposable, volume, wantedCopies(volume)), cards }];
        }),
      );
    },
  };
}
