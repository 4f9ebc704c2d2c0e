import { messageOf } from '../core/fault.ts';
import { settle } from '../core/intake/settle.ts';
import {
  arrivalOf,
  newUnit,
  type ProbeResult,
  rateOf,
  type SettleAction,
  type SettleEvent,
  type SettleState,
} from '../core/intake/settle-state.ts';
import type { Arrival, Clip, FileRecord, PathText } from '../core/model.ts';
import type { Clock, Log } from '../core/ports.ts';
import type { ArrivalSettings } from '../settings/settings.ts';
import { createInspector, type Inspect } from './inspector.ts';
import { createReadyList, type ReadyList } from './ready-list.ts';
import type { Understanding, Understood } from './understand.ts';

/** A wake-up is never set nearer than this, so that many units due at about the same time share one. */
const coarseMs = 20;

export interface BoardDeps {
  volume: string;
  limits: ArrivalSettings;
  clock: Clock;
  log: Log;
  inspect: Inspect;
  /** Groups and probes the files of a unit that is complete. Never rejects. */
  read: (unit: string, records: readonly FileRecord[], evidence: Clip['evidence']) => Promise<Understanding>;
  /** Keeps what was read: files become ready, clips are there. Rejects when it cannot (a full state disk). */
  keep: (unit: string, understood: Understood) => Promise<void>;
  /** Notes that a unit's files were refused. Never rejects. */
  refused: (records: readonly FileRecord[]) => Promise<void>;
  /** Something that the arrivals list shows has changed. */
  changed: () => void;
}

/** All units of one volume that are on their way. Events in, questions and completions out; the decisions are `settle`'s. */
export interface UnitBoard {
  seen(records: readonly FileRecord[]): void;
  resumed(records: readonly FileRecord[]): void;
  /** Files, or folders with all below them, are gone. */
  gone(paths: readonly PathText[]): void;
  arrivals(): Arrival[];
  stop(): void;
}

interface Entry {
  unit: string;
  state: SettleState;
  records: Map<PathText, FileRecord>;
  firstSeenAt: number;
  changedAt: number;
  /** What was read of it, and of which generation. */
  understood: { generation: number; what: Understood } | null;
}

const retryMs = 5_000;

export function createUnitBoard(deps: BoardDeps): UnitBoard {
  const { clock, log } = deps;
  const entries = new Map<string, Entry>();
  const ready: ReadyList = createReadyList(clock);
  const inspector = createInspector(deps.inspect, log);
  let wakeAt = Number.POSITIVE_INFINITY;
  let cancelWake = () => {};
  let stopped = false;

  const nowSeconds = () => clock.ticks() / 1000;

  function entryOf(unit: string): Entry {
    const known = entries.get(unit);
    if (known !== undefined) return known;
    const at = clock.now();
    const entry = { unit, state: newUnit(), records: new Map(), firstSeenAt: at, changedAt: at, understood: null };
    entries.set(unit, entry);
    return entry;
  }

  function step(entry: Entry, event: SettleEvent): void {
    if (stopped) return;
    const before = entry.state;
    const { state, action } = settle(before, event, nowSeconds(), deps.limits);
    entry.state = state;
    if (state.generation !== before.generation) entry.changedAt = clock.now();
    if (state.phase !== before.phase || state.reason !== before.reason) noteChange(entry);
    act(entry, action);
    wake(state.wakeAt);
  }

  function noteChange(entry: Entry): void {
    const { stage, reason, detail } = arrivalOf(entry.state);
    log.debug({ volume: deps.volume, unit: entry.unit, stage, reason, detail }, 'arrival');
    deps.changed();
  }

  function act(entry: Entry, action: SettleAction): void {
    switch (action.do) {
      case 'wait':
        return;
      case 'inspect':
        void inspector.ask(action.paths).then((evidence) => {
          if (isHere(entry)) step(entry, { type: 'evidence', generation: action.generation, evidence });
        });
        return;
      case 'probe':
        void read(entry, action.evidence).then((outcome) => {
          if (isHere(entry)) step(entry, { type: 'probed', generation: action.generation, outcome });
        });
        return;
      case 'finish':
        void finish(entry, action.evidence);
        return;
      case 'refuse':
        void deps.refused([...entry.records.values()]);
        return;
      case 'stall':
        return;
      case 'forget':
        entries.delete(entry.unit);
        deps.changed();
        return;
    }
  }

  const isHere = (entry: Entry) => !stopped && entries.get(entry.unit) === entry;

  async function read(entry: Entry, evidence: Clip['evidence']): Promise<ProbeResult> {
    const { generation } = entry.state;
    const outcome = await deps.read(entry.unit, [...entry.records.values()], evidence);
    if (!outcome.ok) return outcome;
    entry.understood = { generation, what: outcome.understood };
    return { ok: true };
  }

  /** Of a unit without anything to probe nothing was read yet: grouping it asks no probe. */
  async function finish(entry: Entry, evidence: Clip['evidence']): Promise<void> {
    const { generation } = entry.state;
    if (entry.understood?.generation !== generation) await read(entry, evidence);
    const understood = entry.understood;
    if (understood?.generation !== generation || !isHere(entry)) return retry(entry);
    try {
      await deps.keep(entry.unit, understood.what);
    } catch (error) {
      log.debug({ unit: entry.unit, error: messageOf(error) }, 'not kept, tried again');
      return retry(entry);
    }
    if (isHere(entry) && entry.state.generation === generation) leave(entry);
  }

  function leave(entry: Entry): void {
    entries.delete(entry.unit);
    ready.add(lineOf(entry, { stage: 'ready', reason: entry.state.reason, detail: entry.state.detail }));
    deps.changed();
  }

  function retry(entry: Entry): void {
    clock.after(retryMs, () => {
      if (isHere(entry)) step(entry, { type: 'resumed', files: [...entry.records.values()] });
    });
  }

  function wake(at: number): void {
    if (at >= wakeAt || !Number.isFinite(at)) return;
    cancelWake();
    wakeAt = at;
    cancelWake = clock.after(Math.max(coarseMs, (at - nowSeconds()) * 1000), tick);
  }

  function tick(): void {
    wakeAt = Number.POSITIVE_INFINITY;
    const now = nowSeconds();
    let next = Number.POSITIVE_INFINITY;
    for (const entry of [...entries.values()]) {
      if (entry.state.wakeAt <= now) step(entry, { type: 'tick' });
      next = Math.min(next, entry.state.wakeAt);
    }
    wake(next);
  }

  function lineOf(entry: Entry, told: Pick<Arrival, 'stage' | 'reason' | 'detail'>): Arrival {
    const halted = told.stage === 'stalled' || told.stage === 'refused';
    return {
      volume: deps.volume,
      unit: entry.unit,
      path: shownPath(entry),
      ...told,
      bytes: entry.state.bytes,
      bytesPerSecond: halted || told.stage === 'ready' ? null : rateOf(entry.state, nowSeconds()),
      since: halted ? entry.changedAt : entry.firstSeenAt,
    };
  }

  function take(type: 'seen' | 'resumed', records: readonly FileRecord[]): void {
    for (const [unit, files] of byUnit(records)) {
      const entry = entryOf(unit);
      for (const file of files) entry.records.set(file.path, file);
      step(entry, { type, files });
    }
  }

  return {
    seen: (records) => take('seen', records),
    resumed: (records) => take('resumed', records),
    gone(paths) {
      const away = new Set(paths);
      for (const entry of [...entries.values()]) {
        const left = [...entry.records.keys()].filter((path) => isBelow(path, away));
        if (left.length === 0) continue;
        for (const path of left) entry.records.delete(path);
        step(entry, { type: 'gone', paths: left });
      }
    },
    arrivals: () => [...entries.values()].map((entry) => lineOf(entry, arrivalOf(entry.state))).concat(ready.lines()),
    stop() {
      stopped = true;
      cancelWake();
    },
  };
}

/** A unit of one file is called by its path, frames by their pattern, a take by its largest file. */
function shownPath({ unit, records }: Entry): PathText {
  if (unit.includes('[#')) return unit;
  let largest: FileRecord | null = null;
  for (const record of records.values()) if (largest === null || record.size > largest.size) largest = record;
  return largest?.path ?? unit;
}

/** Whether a path is one of these, or lies in a folder that is. */
function isBelow(path: PathText, folders: ReadonlySet<PathText>): boolean {
  if (folders.has(path)) return true;
  for (let at = path.lastIndexOf('/'); at > 0; at = path.lastIndexOf('/', at - 1)) {
    if (folders.has(path.slice(0, at))) return true;
  }
  return false;
}

function byUnit(records: readonly FileRecord[]): Map<string, FileRecord[]> {
  return Map.groupBy(records, ({ unit }) => unit);
}
