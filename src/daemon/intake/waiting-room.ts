import { messageOf } from '../../core/fault.ts';
import type { Arrival, FileRecord, Instant, PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { type ArrivalTotals, createPending } from './pending.ts';

/** So many units are called in together. */
const atOnce = 500;

/** Units that could not be called in are tried again after this long. */
const retryMs = 5_000;

export interface WaitingDeps {
  volume: string;
  clock: Clock;
  log: Log;
  /** The files of these units, as the catalogue has them. */
  recall: (units: string[]) => Promise<FileRecord[]>;
  /** Is there room for more? */
  hasRoom: () => boolean;
  /** What was called in. */
  takeUp: (records: FileRecord[]) => void;
  /** Nothing is left of a unit that was called in. */
  left?: (unit: string) => void;
}

/**
 * Units that wait until fewer others are being looked at: a first start may find a million files, and what is held of
 * each that is looked at is some kilobytes. Of one that waits only its line is held, its files are in the catalogue.
 */
export interface WaitingRoom {
  has(unit: string): boolean;
  add(unit: string, records: readonly FileRecord[]): void;
  /** Calls this one in before the others, whether there is room or not: something happens to it. */
  hurry(unit: string): void;
  /** There may be room now. */
  callNext(): void;
  /** One of each project, and these. */
  lines(units: Iterable<string>): Arrival[];
  totals(): ArrivalTotals;
  stop(): void;
}

interface Waiting {
  unit: string;
  path: PathText;
  bytes: number;
  since: Instant;
}

export function createWaitingRoom(deps: WaitingDeps): WaitingRoom {
  const { clock, log, volume } = deps;
  const units = new Map<string, Waiting>();
  const pending = createPending<Waiting>();
  let calling = false;
  let cancelRetry = () => {};
  let stopped = false;

  /** They wait until their files are there, so that nobody takes them for gone meanwhile. */
  async function call(called: string[]): Promise<void> {
    const records = await deps.recall(called);
    if (stopped) return;
    for (const unit of called) {
      const waiting = units.get(unit);
      if (waiting !== undefined) pending.drop(waiting);
      units.delete(unit);
    }
    deps.takeUp(records);
    if (deps.left === undefined) return;
    const there = new Set(records.map(({ unit }) => unit));
    for (const unit of called) if (!there.has(unit)) deps.left(unit);
  }

  function retryLater(error: unknown): void {
    log.debug({ volume, error: messageOf(error) }, 'waiting arrivals not called in, tried again');
    cancelRetry();
    cancelRetry = clock.after(retryMs, callNext);
  }

  function callNext(): void {
    if (calling || stopped || units.size === 0 || !deps.hasRoom()) return;
    calling = true;
    call([...units.keys().take(atOnce)]).then(
      () => {
        calling = false;
        callNext();
      },
      (error: unknown) => {
        calling = false;
        retryLater(error);
      },
    );
  }

  const lineOf = ({ unit, path, bytes, since }: Waiting): Arrival => ({
    volume,
    unit,
    path,
    stage: 'settling',
    reason: 'not-quiet-yet',
    detail: null,
    bytes,
    bytesPerSecond: null,
    since,
  });

  return {
    has: (unit) => units.has(unit),
    add(unit, records) {
      const [first] = records;
      if (first === undefined) return;
      const bytes = records.reduce((sum, { size }) => sum + size, 0);
      const waiting = units.get(unit) ?? { unit, path: first.path, bytes, since: clock.now() };
      waiting.bytes = bytes;
      units.set(unit, waiting);
      pending.note(waiting, { project: first.project, bytes, halted: false });
    },
    hurry(unit) {
      if (units.has(unit)) call([unit]).catch(retryLater);
    },
    callNext,
    lines(wanted) {
      const shown = pending.pick(0);
      for (const unit of wanted) {
        const waiting = units.get(unit);
        if (waiting !== undefined) shown.add(waiting);
      }
      return [...shown].map(lineOf);
    },
    totals: pending.totals,
    stop() {
      stopped = true;
      cancelRetry();
    },
  };
}
