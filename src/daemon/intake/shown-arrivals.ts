import { unitOf } from '../../core/intake/group.ts';
import type { Arrival, PathText } from '../../core/model.ts';
import type { ArrivalTotals, Pending } from './pending.ts';
import type { ReadyList } from './ready-list.ts';
import { asideKey, type Entry } from './unit-entry.ts';
import type { WaitingRoom } from './waiting-room.ts';

/** More lines of what goes its way nobody reads; the sums tell of the rest. */
const shownLines = 200;

/** What is shown of the arrivals of a volume. */
export interface ShownArrivals extends ArrivalTotals {
  lines: Arrival[];
}

export interface ArrivalSources {
  units: ReadonlyMap<string, Entry>;
  asides: ReadonlyMap<string, Entry>;
  pending: Pending<Entry>;
  room: Pick<WaitingRoom, 'lines' | 'totals'>;
  ready: ReadyList;
  line: (entry: Entry) => Arrival;
}

/**
 * Lines of all that have halted, of those that the paths in `about` belong to, of the first few others with at least one
 * of each project, and of what became ready lately.
 */
export function shownArrivals(
  { units, asides, pending, room, ready, line }: ArrivalSources,
  about: Iterable<PathText>,
): ShownArrivals {
  const shown = pending.pick(shownLines);
  const wanted = new Set<string>();
  for (const path of about) {
    const unit = unitOf(path, 'original');
    // Of frames the path that was told may be their pattern, which is the unit itself.
    for (const entry of [units.get(unit), units.get(path), asides.get(asideKey(unit, path))]) {
      if (entry !== undefined) shown.add(entry);
    }
    wanted.add(unit).add(path);
  }
  const [onBoard, waiting] = [pending.totals(), room.totals()];
  return {
    lines: [...[...shown].map(line), ...room.lines(wanted), ...ready.lines()],
    pending: onBoard.pending + waiting.pending,
    bytes: onBoard.bytes + waiting.bytes,
  };
}
