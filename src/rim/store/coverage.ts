import type { DatabaseSync } from 'node:sqlite';
import type { CopiesWanted } from '../../core/backup/project-copies.ts';
import type { Instant } from '../../core/model.ts';
import { IS_VERIFIED } from './copy-rows.ts';
import { COVERAGE_TRIGGERS, openCoverageFill } from './coverage-fill.ts';
import { openCoverageSums, type Place, type PlaceCover, placeKey } from './coverage-sums.ts';
import type { ShelfKeys } from './shelf-keys.ts';

/** Counting that takes less than this, in ms, is done after every change. */
const QUICK = 50;
/** Else it takes at most this share of the time. */
const SHARE = 0.05;

/**
 * What has enough verified copies, by place. A file is covered when the version that is on the volume now (same size
 * and modification time) has them under any of its names; two shelves on one device are one copy. A clip is covered when
 * every file of its unit is; a take of several clips when every file of all their units is.
 *
 * Counted again when something changed, but where that takes long only now and then. Whatever is new or changes meanwhile
 * counts as not covered until then: what is told errs towards exposure.
 */
export interface Coverage {
  /** `readSince`: copies that were read at this instant or later are told apart; `null`: as when it was asked last. */
  refresh(wanted: CopiesWanted, readSince: Instant | null): void;
  of(place: Place): PlaceCover;
  /** When the earliest footage that is not covered was seen, at the last full count. */
  since(place: Place): number | null;
}

export function openCoverage(database: DatabaseSync, keys: ShelfKeys, now: () => number): Coverage {
  const fill = openCoverageFill(database);
  const sums = openCoverageSums(database, keys);
  const changesOf = database.prepare('SELECT total_changes() AS n');
  const anyCopy = database.prepare(`SELECT 1 FROM ledger.copy AS copy WHERE ${IS_VERIFIED} LIMIT 1`);
  const earliest = openEarliest(database);
  const sinces = new Map<string, number | null>();
  let seenChanges = -1;
  let counted = { asked: '', changes: -1, restsUntil: 0 };
  let lastSince = 0;
  let hasTriggers = false;

  const changes = () => Number(changesOf.get()?.['n']);

  function count(wanted: CopiesWanted, asked: string): void {
    const began = now();
    const hasCopies = anyCopy.get() !== undefined;
    if (hasCopies && !hasTriggers) {
      database.exec(COVERAGE_TRIGGERS);
      hasTriggers = true;
    }
    keys.refresh();
    fill(hasCopies ? wanted : null, lastSince);
    sums.readAll();
    sinces.clear();
    seenChanges = changes();
    const took = now() - began;
    counted = { asked, changes: seenChanges, restsUntil: took < QUICK ? 0 : now() + took / SHARE };
  }

  return {
    refresh(wanted, readSince) {
      lastSince = readSince ?? lastSince;
      const asked = JSON.stringify([wanted, lastSince]);
      const found = changes();
      if (asked !== counted.asked) count(wanted, asked);
      else if (found !== counted.changes && now() >= counted.restsUntil) count(wanted, asked);
      else if (found !== seenChanges) {
        sums.readLess();
        seenChanges = found;
      }
    },
    of: sums.of,
    since(place) {
      const key = placeKey(place);
      const known = sinces.get(key);
      if (known !== undefined) return known;
      const found = earliest(place);
      sinces.set(key, found);
      return found;
    },
  };
}

function openEarliest(database: DatabaseSync): (place: Place) => number | null {
  // Footage whose unit is wholly covered is skipped; what is left comes in the index's order, earliest first.
  const earliest = database.prepare(`
    SELECT first_seen_at AS at FROM file
    WHERE volume = ? AND area = ? AND project IS ? AND exposable = 1 AND size > 0
      AND NOT EXISTS (SELECT 1 FROM covered_unit AS safe WHERE safe.volume = file.volume AND safe.unit = file.unit)
    ORDER BY first_seen_at LIMIT 1`);
  return ({ volume, area, project }) => {
    const found = earliest.get(volume, area, project)?.['at'];
    return typeof found === 'number' ? found : null;
  };
}
