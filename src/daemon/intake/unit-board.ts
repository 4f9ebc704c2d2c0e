import { messageOf } from '../../core/fault.ts';
import { compareSeen } from '../../core/intake/compare.ts';
import { giveUp, settle } from '../../core/intake/settle.ts';
import { isBelow } from '../../core/intake/settle-changes.ts';
import {
  arrivalOf,
  type ProbeResult,
  type SettleAction,
  type SettleEvent,
  type SettleStep,
} from '../../core/intake/settle-state.ts';
import type { Clip, FileRecord, PathText } from '../../core/model.ts';
import type { BoardDeps } from './board-deps.ts';
import { changeBetween, isMereGrowth } from './growth.ts';
import { createInspector } from './inspector.ts';
import { createPending } from './pending.ts';
import { readEntry } from './read-entry.ts';
import { createReadyList, type ReadyList } from './ready-list.ts';
import { type ShownArrivals, shownArrivals } from './shown-arrivals.ts';
import { asideKey, type Entry, lineOf, newEntry, tellFault, weightOf } from './unit-entry.ts';
import { createWaitingRoom } from './waiting-room.ts';
import { createWaker } from './waker.ts';

/**
 * All units of one volume that are on their way. Events in, questions and completions out; the decisions are `settle`'s.
 *
 * A file that keeps the others of its unit from being finished is taken apart from them and has a line of its own, until it
 * changes or turns out complete: then it is put back, and the unit is read anew.
 */
export interface UnitBoard {
  /** `listed`: found where it lies, and may wait while very many others are looked at. Else something happens to it now. */
  seen(records: readonly FileRecord[], listed?: boolean): void;
  /** A file that is open for writing has grown. False: it is to be noted and told like every other, it is time for that. */
  grown(record: FileRecord): boolean;
  /** After a restart, or when a root came back: these are looked at afresh. May be called at any time, and again. */
  resumed(records: readonly FileRecord[]): void;
  /** Files, or folders with all below them, are gone. */
  gone(paths: readonly PathText[]): void;
  /** Lines of all that have halted, of those that these paths are about, and of the others the first few; and the sums of all. */
  arrivals(about?: Iterable<PathText>): ShownArrivals;
  stop(): void;
}

const retryMs = 5_000;

/** What is held of a unit that is looked at is some kilobytes; so many keep the looks busy that are made at a time. */
const mostAtOnce = 10_000;

export function createUnitBoard(deps: BoardDeps): UnitBoard {
  const { clock, log } = deps;
  const units = new Map<string, Entry>();
  /** Files apart from their unit, by path; bad frames of a sequence together, by the sequence's key. */
  const asides = new Map<string, Entry>();
  const ready: ReadyList = createReadyList(clock);
  const inspector = createInspector(deps.inspect, log);
  const waker = createWaker<Entry>(
    clock,
    ({ state }) => (state.asked === null ? state.wakeAt : Number.POSITIVE_INFINITY),
    (entry) => {
      if (isHere(entry)) step(entry, { type: 'tick' });
    },
  );
  const pending = createPending<Entry>();
  const isCrowded = () => pending.moving() >= (deps.mostAtOnce ?? mostAtOnce);
  const room = createWaitingRoom({
    ...deps,
    hasRoom: () => !isCrowded(),
    takeUp: (records) => takeIn('seen', records, false),
  });
  let stopped = false;

  const nowSeconds = () => clock.ticks() / 1000;
  const line = (entry: Entry) => lineOf(entry, deps.volume, { now: clock.now(), ticks: nowSeconds() });

  function unitEntry(unit: string, firstSeenAt = clock.now()): Entry {
    const known = units.get(unit);
    if (known !== undefined) return known;
    const entry = newEntry({ unit, key: unit, firstSeenAt });
    units.set(unit, entry);
    return entry;
  }

  function step(entry: Entry, event: SettleEvent): void {
    if (stopped) return;
    try {
      take(entry, settle(entry.state, event, nowSeconds(), deps.limits));
    } catch (error) {
      fail(entry, error);
    }
  }

  function take(entry: Entry, { state, action }: SettleStep): void {
    const before = entry.state;
    entry.state = state;
    const changed = changeBetween(before, state);
    if (changed !== 'nothing') noteChange(entry);
    if (changed === 'news') deps.changed();
    pending.note(entry, weightOf(entry));
    if (state.phase === 'stalled' || state.phase === 'refused') room.callNext();
    act(entry, action);
    waker.set(entry);
  }

  function noteChange(entry: Entry): void {
    const { stage, reason, detail } = arrivalOf(entry.state);
    log.debug({ volume: deps.volume, unit: entry.unit, stage, reason, detail }, 'arrival');
  }

  function act(entry: Entry, action: SettleAction): void {
    if (entry.state.apart && (action.do === 'probe' || action.do === 'finish')) {
      putBack(entry);
      return;
    }
    switch (action.do) {
      case 'inspect':
        go(entry, async () => {
          const evidence = await inspector.ask(action.paths);
          if (isHere(entry)) step(entry, { type: 'evidence', generation: action.generation, evidence });
        });
        break;
      case 'probe':
        go(entry, async () => {
          const outcome = await read(entry, action.evidence);
          if (isHere(entry)) step(entry, { type: 'probed', generation: action.generation, outcome });
        });
        break;
      case 'finish':
        go(entry, () => finish(entry, action.evidence));
        break;
      case 'refuse':
        noteRefused(entry);
        break;
      case 'part':
        part(entry, action.asides);
        break;
      case 'forget':
        remove(entry);
        break;
      case 'wait':
      case 'stall':
        break;
    }
  }

  /** Runs what takes its time. Whatever it fails with ends neither the daemon nor the other units. */
  function go(entry: Entry, run: () => Promise<void>): void {
    run().catch((error: unknown) => fail(entry, error));
  }

  /** Something is wrong with us, not with the file: told, and the unit is left alone until it changes. */
  function fail(entry: Entry, error: unknown): void {
    tellFault(log, line(entry), error);
    if (!isHere(entry)) return;
    entry.state = giveUp(entry.state, { reason: 'probe-failed', detail: messageOf(error) }).state;
    pending.note(entry, weightOf(entry));
    noteRefused(entry);
    deps.changed();
  }

  function noteRefused({ unit, records }: Entry): void {
    deps.refused([...records.values()]).catch((error: unknown) => {
      log.error({ volume: deps.volume, unit, error: messageOf(error) }, 'a refusal was not noted');
    });
  }

  const isHere = (entry: Entry) => !stopped && (units.get(entry.key) === entry || asides.get(entry.key) === entry);

  const read = (entry: Entry, evidence: Clip['evidence']) =>
    readEntry(entry, evidence, { read: deps.read, fault: (error) => tellFault(log, line(entry), error) });

  /**
   * Of a unit without anything to probe nothing was read yet: grouping it asks no probe. What changes while something is
   * waited for opens a new generation, which goes its own way from there: then nothing is kept, or nothing is left.
   */
  async function finish(entry: Entry, evidence: Clip['evidence']): Promise<void> {
    const { generation } = entry.state;
    const isCurrent = () => isHere(entry) && entry.state.generation === generation;
    const isRead = entry.understood?.generation === generation;
    const outcome: ProbeResult = isRead ? { ok: true } : await read(entry, evidence);
    if (!isCurrent()) return;
    if (!outcome.ok) {
      const { reason } = outcome;
      if (reason === 'not-answered' || reason === 'changed-meanwhile') return retry(entry);
      return take(entry, giveUp(entry.state, { ...outcome, reason }));
    }
    const { understood } = entry;
    if (understood === null) return;
    try {
      await deps.keep(entry.unit, understood.what);
    } catch (error) {
      log.debug({ unit: entry.unit, error: messageOf(error) }, 'not kept, tried again');
      return retry(entry);
    }
    if (!isCurrent()) return;
    ready.add(line(entry));
    remove(entry);
  }

  function remove(entry: Entry): void {
    (entry.state.apart ? asides : units).delete(entry.key);
    pending.drop(entry);
    if (!units.has(entry.unit)) deps.left?.(entry.unit);
    room.callNext();
    deps.changed();
  }

  function part(entry: Entry, steps: readonly SettleStep[]): void {
    for (const apart of steps) {
      const paths = [...apart.state.members.base.keys()];
      const records = paths.flatMap((path) => entry.records.get(path) ?? []);
      for (const path of paths) entry.records.delete(path);
      const key = asideKey(entry.unit, paths[0] ?? entry.unit);
      const known = asides.get(key);
      const aside = known ?? newEntry({ unit: entry.unit, key, firstSeenAt: entry.firstSeenAt }, apart.state);
      for (const record of records) aside.records.set(record.path, record);
      asides.set(key, aside);
      if (known === undefined) take(aside, apart);
      else step(known, { type: 'seen', files: records });
    }
    deps.changed();
    step(entry, { type: 'tick' });
  }

  /** What was apart is taken up by its unit again, and looked at together with whatever else is on its way there. */
  function putBack(aside: Entry, paths: Iterable<PathText> = aside.records.keys()): void {
    const records = [...paths].flatMap((path) => aside.records.get(path) ?? []);
    for (const { path } of records) aside.records.delete(path);
    step(aside, { type: 'gone', paths: records.map(({ path }) => path) });
    const entry = unitEntry(aside.unit, aside.firstSeenAt);
    for (const record of records) entry.records.set(record.path, record);
    step(entry, { type: 'resumed', files: records });
  }

  function retry(entry: Entry): void {
    clock.after(retryMs, () => {
      if (isHere(entry)) step(entry, { type: 'resumed', files: [...entry.records.values()] });
    });
  }

  /** Those of the files that are apart: unchanged they stay so, changed they are put back before the change is told. */
  function withoutAsides(unit: string, records: readonly FileRecord[]): FileRecord[] {
    return records.filter((record) => {
      const aside = asides.get(asideKey(unit, record.path));
      const known = aside?.records.get(record.path);
      if (aside === undefined || known === undefined) return true;
      if (compareSeen(known, record).verdict === 'same') return false;
      putBack(aside, [record.path]);
      return true;
    });
  }

  function takeIn(type: 'seen' | 'resumed', records: readonly FileRecord[], mayWait: boolean): void {
    for (const [unit, told] of Map.groupBy(records, (record) => record.unit)) {
      const files = withoutAsides(unit, told);
      if (files.length === 0) continue;
      if (!units.has(unit) && (room.has(unit) || (mayWait && isCrowded()))) {
        room.add(unit, files);
        if (!mayWait) room.hurry(unit);
        continue;
      }
      const entry = unitEntry(unit);
      for (const file of files) entry.records.set(file.path, file);
      step(entry, { type, files });
    }
  }

  return {
    seen: (records, listed = false) => takeIn('seen', records, listed),
    grown(record) {
      const entry = units.get(record.unit);
      if (!isMereGrowth(entry, record, { now: nowSeconds(), moving: pending.moving() })) return false;
      step(entry, { type: 'seen', files: [record], open: true });
      return true;
    },
    resumed(records) {
      const paths = new Set(records.map(({ path }) => path));
      const again = [...asides.values()].filter((aside) => !paths.isDisjointFrom(aside.records));
      takeIn('resumed', records, true);
      // What is apart is looked at again where it is: it does not hold up the others meanwhile, nor is its line lost.
      for (const aside of again) {
        if (isHere(aside)) step(aside, { type: 'resumed', files: [...aside.records.values()] });
      }
    },
    gone(paths) {
      const away = new Set(paths);
      for (const entry of [...units.values(), ...asides.values()]) {
        const left = [...entry.records.keys()].filter((path) => isBelow(path, away));
        if (left.length === 0) continue;
        for (const path of left) entry.records.delete(path);
        step(entry, { type: 'gone', paths: left });
      }
    },
    arrivals: (about = []) => shownArrivals({ units, asides, pending, room, ready, line }, about),
    stop() {
      stopped = true;
      waker.stop();
      room.stop();
    },
  };
}
