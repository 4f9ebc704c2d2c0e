import type { CardAssessment, ListOnCardAssessment, VolumeNotLive } from '../../core/assess/assessment.ts';
import type { InventoryHead } from '../../core/card-ports.ts';
import type { CardListCheck } from '../../core/cards/card-list-check.ts';
import type { CopyTally } from '../../core/cards/copy-tally.ts';
import type { Candidate, InventoryFile } from '../../core/cards/inventory.ts';
import type { InventoryListHead } from '../../core/cards/inventory-list.ts';
import { isKept, type KeptCard } from '../../core/cards/kept-card.ts';
import type { ListCheck } from '../../core/cards/list-check.ts';
import type { Progress, Reconciliation } from '../../core/cards/reconciliation.ts';
import type { Instant, PathText } from '../../core/model.ts';

/** One inventory and what is known of its arrival. */
export interface CardEntry {
  head: InventoryHead;
  /** `null` while nothing is waited for: then they lie in the ledger alone. */
  files: InventoryFile[] | null;
  /** Where it is mounted now; `null`: it is not, or it is a manifest. */
  mountedAt: string | null;
  goneSince: Instant | null;
  /** What has arrived, now or at some time. */
  before: Set<PathText>;
  progress: Progress | null;
  /** When all its footage was here first; `null`: never yet. Does not count while the inventory has a gap. */
  completeAt: Instant | null;
  /** Answers of the catalogue, file by file; `null`: it was not asked yet. */
  candidates: Candidate[][] | null;
  reconciliation: Reconciliation | null;
  /** Verified copies of what has arrived, and what they were looked up for; `null`: not yet. */
  copies: { mark: string; tally: CopyTally } | null;
  /** Of a list: what arrived beside what it says of contents; `null`: not looked at yet. */
  check: ListCheck | null;
  /** Lists that lie on the card, by their places, and what arrived beside them; `null`: not looked at yet. */
  lists: Map<PathText, { head: InventoryListHead; check: CardListCheck | null }>;
  /** That a person said the card is kept as it is; `null`: nobody did. */
  kept: KeptCard | null;
  /** What is kept of it is older than what is known; `urgent`: its note is written at once. */
  unsaved: { inventory: boolean; note: boolean; urgent: boolean };
}

/** What a volume says of itself. */
export interface LiveVolume {
  name: string;
  live(): boolean;
  /** It is there, and read for the first time since the start. */
  starting(): boolean;
}

/** A card that is gone, or a manifest, is shown for so long after all of it had arrived. */
const SHOWN_MS = 24 * 3_600_000;

/** That what was said of a card does not hold any more is shown for so long. */
const ENDED_SHOWN_MS = 7 * 86_400_000;

export function newEntry(head: InventoryHead, files: InventoryFile[] | null): CardEntry {
  return {
    head,
    files,
    mountedAt: null,
    goneSince: null,
    before: new Set(),
    progress: null,
    completeAt: null,
    candidates: null,
    reconciliation: null,
    copies: null,
    check: null,
    lists: new Map(),
    kept: null,
    unsaved: { inventory: false, note: false, urgent: false },
  };
}

/** Whether something of it is waited for, or still worth showing. */
export function isOpen(entry: CardEntry, now: Instant): boolean {
  const { check, goneSince, kept, lists, mountedAt } = entry;
  const completeAt = completeSince(entry);
  const checks = [check, ...[...lists.values()].map((list) => list.check)];
  const isUnsettled = checks.some((one) => one !== null && (one.altered > 0 || one.pending > 0));
  const isSaid = isKept(kept) || (kept?.endedAt != null && now - kept.endedAt < ENDED_SHOWN_MS);
  if (mountedAt !== null || completeAt === null || isUnsettled || isSaid) return true;
  return now - Math.max(completeAt, goneSince ?? 0) < SHOWN_MS;
}

/** Of an inventory with a gap it cannot be said. */
function completeSince({ completeAt, head }: CardEntry): Instant | null {
  return head.gap === null ? completeAt : null;
}

/** Of the volumes on which files of an inventory were found, or should be, those that are not live. */
export function notLiveOf({ inventory, deliveries }: Reconciliation, volumes: readonly LiveVolume[]): VolumeNotLive[] {
  const concerned = new Set([...deliveries.map(({ volume }) => volume), inventory.on?.volume]);
  return volumes
    .filter(({ name, live }) => concerned.has(name) && !live())
    .map(({ name, starting }) => ({ volume: name, state: starting() ? 'starting' : 'away' }));
}

/** `null` before it was set beside what arrived. `stalledMs`: so long without anything more is broken off. */
export function assessmentOf(
  entry: CardEntry,
  now: Instant,
  { stalledMs, volumes }: { stalledMs: number; volumes: readonly LiveVolume[] },
): CardAssessment | null {
  const { reconciliation, progress, head, mountedAt, goneSince, copies, check, kept } = entry;
  if (reconciliation === null || progress === null) return null;
  return {
    state: head.source === 'manifest' ? 'manifest' : mountedAt === null ? 'gone' : 'mounted',
    goneSince: mountedAt === null ? goneSince : null,
    reconciliation,
    progress,
    stalled: now - progress.since >= stalledMs,
    wasComplete: completeSince(entry) !== null,
    notLive: notLiveOf(reconciliation, volumes),
    copies: copies?.tally ?? null,
    check,
    lists: listsOf(entry),
    kept,
  };
}

function listsOf({ lists }: CardEntry): ListOnCardAssessment[] {
  return [...lists]
    .sort(([one], [other]) => (one < other ? -1 : 1))
    .map(([place, { head, check }]) => {
      const { state, detail, gap, listed } = head;
      return { place, state, detail, gap, listed, check: state === 'whole' ? check : null };
    });
}

/** What is kept of an entry beside its inventory. */
interface Note {
  /** Of the inventory it speaks of: places in another one would be wrong. */
  takenAt: Instant;
  /** Places in the inventory's list, first and last of each run. */
  before: [first: number, last: number][];
  progress: Progress | null;
  completeAt: Instant | null;
  goneSince: Instant | null;
  check?: ListCheck | null;
  /** Of lists on the card, by their places. */
  lists?: Record<PathText, CardListCheck>;
}

export function noteOf({ head, files, before, progress, completeAt, goneSince, check, lists: all }: CardEntry): string {
  const runs: Note['before'] = [];
  for (const [place, { path }] of (files ?? []).entries()) {
    if (!before.has(path)) continue;
    const run = runs.at(-1);
    if (run?.[1] === place - 1) run[1] = place;
    else runs.push([place, place]);
  }
  const lists = Object.fromEntries(
    [...all].flatMap(([place, list]) => (list.check === null ? [] : [[place, list.check]])),
  );
  const note: Note = { takenAt: head.takenAt, before: runs, progress, completeAt, goneSince, check, lists };
  return JSON.stringify(note);
}

/** Takes up what was kept; what cannot be read is as if it had never been known. Needs the files for what had arrived. */
export function restoreNote(entry: CardEntry, text: string): void {
  const note = parse(text);
  if (note === null) return;
  entry.completeAt = note.completeAt;
  entry.goneSince = note.goneSince;
  entry.progress = note.progress;
  // What was told since stands.
  entry.check ??= note.check ?? null;
  for (const [place, list] of entry.lists) list.check ??= note.lists?.[place] ?? null;
  if (note.takenAt === entry.head.takenAt) entry.before = arrivedBefore(entry, note);
}

function arrivedBefore({ files }: CardEntry, note: Note): Set<PathText> {
  const paths = new Set<PathText>();
  for (const [first, last] of note.before) {
    for (const { path } of files?.slice(first, last + 1) ?? []) paths.add(path);
  }
  return paths;
}

function parse(text: string): Note | null {
  try {
    return JSON.parse(text) as Note;
  } catch {
    return null;
  }
}
