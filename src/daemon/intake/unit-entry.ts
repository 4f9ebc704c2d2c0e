import { messageOf } from '../../core/fault.ts';
import { lookUp } from '../../core/intake/overlay-map.ts';
import { arrivalOf, newUnit, rateOf, type SettleState } from '../../core/intake/settle-state.ts';
import type { Arrival, FileRecord, Instant, PathText } from '../../core/model.ts';
import type { Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { Weight } from './pending.ts';
import type { Understood } from './understand.ts';

/** A unit on the board, or files of one that were taken apart from it. */
export interface Entry {
  readonly unit: string;
  /** Under which it is found: the unit's key, or for files apart from it what tells them from the others. */
  readonly key: string;
  state: SettleState;
  records: Map<PathText, FileRecord>;
  firstSeenAt: Instant;
  /** What was read of it, and of which generation. */
  understood: { generation: number; what: Understood } | null;
  /** When growth of its files was last to be noted, in monotonic seconds. */
  notedAt: number;
}

export function newEntry(named: Pick<Entry, 'unit' | 'key' | 'firstSeenAt'>, state = newUnit()): Entry {
  return { ...named, state, records: new Map(), understood: null, notedAt: 0 };
}

/** What counts of it in the sums of all arrivals. */
export function weightOf({ records, state }: Entry): Weight {
  const [first] = records.values();
  const halted = state.phase === 'stalled' || state.phase === 'refused';
  return { project: first?.project ?? null, bytes: state.bytes, halted };
}

/**
 * What is to be read of it, as the last look saw it: a file may be gone, or written through a mapping of memory, before any
 * event tells so.
 */
export function membersOf({ state: { members }, records }: Entry): FileRecord[] {
  return [...records.values()].flatMap((record) => {
    const stat = lookUp(members, record.path)?.stat;
    return stat === undefined ? [] : [{ ...record, ...stat }];
  });
}

/** The entry's line in the list of arrivals; `ticks` are monotonic seconds. */
export function lineOf(entry: Entry, volume: string, { now, ticks }: { now: Instant; ticks: number }): Arrival {
  const told = arrivalOf(entry.state);
  const halted = told.stage === 'stalled' || told.stage === 'refused';
  return {
    volume,
    unit: entry.unit,
    path: shownPath(entry, told.stage),
    ...told,
    bytes: entry.state.bytes,
    bytesPerSecond: halted || told.stage === 'ready' ? null : rateOf(entry.state, ticks),
    since: halted ? Math.min(newestChange(entry), now) : entry.firstSeenAt,
  };
}

/** Says that something went wrong with us while a unit was taken in. */
export function tellFault(log: Log, { volume, unit, path }: Arrival, error: unknown): void {
  const message = messageOf(error);
  log.error(
    { volume, unit, error: message, stack: error instanceof Error ? error.stack : null },
    `${display(path)} on ${display(volume)} could not be taken in: ${display(message)}. Nothing was done to it; keep the card.`,
  );
}

/** Whether a unit's key stands for the numbered frames of a sequence. */
function isSequenceKey(unit: string): boolean {
  return unit.includes('[#');
}

/** Under which what is apart from a unit is found: a file by its path; bad frames of a sequence stay together. */
export function asideKey(unit: string, path: PathText): string {
  return isSequenceKey(unit) ? unit : path;
}

/**
 * The file that the reason is about. Where it is about all: the largest of a take; frames by their pattern, also while
 * they are copied, when the reason is about another one every moment.
 */
function shownPath({ unit, records, state }: Entry, stage: Arrival['stage']): PathText {
  const { about } = state;
  if (isSequenceKey(unit)) return about === null || stage === 'copying' ? unit : about;
  if (about !== null) return about;
  let largest: FileRecord | null = null;
  for (const record of records.values()) if (largest === null || record.size > largest.size) largest = record;
  return largest?.path ?? unit;
}

/** When the files themselves last changed, ms since 1970: the same after every restart. */
function newestChange({ records }: Entry): Instant {
  let newest = 0n;
  for (const { ctimeNs } of records.values()) if (ctimeNs > newest) newest = ctimeNs;
  return Number(newest / 1_000_000n);
}
