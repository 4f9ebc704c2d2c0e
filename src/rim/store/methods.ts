import { openCatalogueReads } from './catalogue-reads.ts';
import { openCatalogueWrites } from './catalogue-writes.ts';
import { openForget } from './forget.ts';
import { openKeptTexts } from './kept-texts.ts';
import { openLedgerQueries } from './ledger-queries.ts';
import type { OpenState } from './open.ts';
import { openProjects } from './project-sums.ts';
import type { MethodName, StoreMethods } from './protocol.ts';
import { openSums } from './sums.ts';

/** What one call gives back: a small value and a list that may be long. */
export interface Answer<Value, Listed> {
  value: Value;
  list: Listed[];
}

export type StoreTable = {
  [Name in MethodName]: (
    args: StoreMethods[Name]['args'],
    list: StoreMethods[Name]['item'][],
  ) => Answer<StoreMethods[Name]['value'], StoreMethods[Name]['listed']>;
};

const DONE: Answer<null, never> = { value: null, list: [] };

/** Prepares every statement once and binds each method to its query. */
export function openMethods({ database }: Pick<OpenState, 'database'>): StoreTable {
  const sums = openSums(database);
  const reads = openCatalogueReads(database, sums);
  const writes = openCatalogueWrites(database, sums);
  const kept = openKeptTexts(database);
  const forget = openForget(database, writes);
  const ledger = openLedgerQueries(database);
  const projects = openProjects(database, sums, ledger.isLost);
  return {
    compareListing({ volume, dir, dirs }, files) {
      const { fresh, gone } = reads.compareListing(volume, dir, files, dirs);
      return { value: fresh, list: gone };
    },
    compareFiles: ({ volume }, files) => valueOnly(reads.compareFiles(volume, files)),
    putFiles({ at }, files) {
      writes.putFiles(files, at);
      return DONE;
    },
    filesOfUnit: ({ volume, unit }) => listed(reads.filesOfUnit(volume, unit)),
    unfinished: ({ volume }) => listed(reads.unfinished(volume)),
    finishUnit({ volume, unit, clips, at }, files) {
      writes.finishUnit(volume, unit, files, clips, at);
      return DONE;
    },
    forget: ({ volume, at }, paths) => valueOnly(forget(volume, paths, at)),
    projects: ({ wantedCopies }) => listed(projects(wantedCopies)),
    clips: (query) => listed(reads.clips(query)),
    counts: ({ volume }) => valueOnly(reads.counts(volume)),
    recall: ({ key }) => valueOnly(kept.recall(key)),
    remember({ key, value }) {
      kept.remember(key, value);
      return DONE;
    },
    condition: () => valueOnly(ledger.isLost() ? 'lost' : 'sound'),
    advisories: () => listed(ledger.advisories()),
    putAdvisories(_, advisories) {
      ledger.putAdvisories(advisories);
      return DONE;
    },
  };
}

function valueOnly<Value>(value: Value): Answer<Value, never> {
  return { value, list: [] };
}

function listed<Listed>(list: Listed[]): Answer<null, Listed> {
  return { value: null, list };
}
