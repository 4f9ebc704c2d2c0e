import type { CopyLookPort } from '../../core/card-ports.ts';
import type { Place, Reconciliation } from '../../core/cards/reconciliation.ts';
import type { CardEntry } from './card-entry.ts';

/** Looks up the verified copies of what arrived, where there may be others than were told. */
export interface CardCopies {
  /** There are other copies now. */
  changed(): void;
  /** Counts again that this happens; what was looked up under another number may be no longer so. */
  round(): number;
  /** `again`: whatever was told before. */
  update(entries: readonly CardEntry[], again?: boolean): Promise<void>;
}

export function createCardCopies({
  look,
  digest,
}: {
  look: CopyLookPort;
  digest: (text: string) => string;
}): CardCopies {
  let round = 0;
  return {
    changed() {
      round += 1;
    },
    round: () => round,
    async update(entries, again = false) {
      for (const entry of entries) {
        const { reconciliation } = entry;
        if (reconciliation === null) continue;
        const files = arrivedFiles(reconciliation);
        const mark = digest(JSON.stringify([round, files]));
        if (!again && entry.copies?.mark === mark) continue;
        const places = files.map(({ volume, path }): Place => ({ volume, path }));
        entry.copies = { mark, tally: await look.copiesAt(places) };
      }
    },
  };
}

/** Files on volumes that are the copies of an inventory's files, as they were found. */
export function arrivedFiles({ files }: Reconciliation) {
  return files.flatMap(({ verdict, found }) =>
    found !== null && (verdict === 'arrived' || verdict === 'arrived-renamed') ? [found] : [],
  );
}
