import type { Clock, Log } from '../../core/ports.ts';
import { onNextBeat } from '../../core/together.ts';
import { cardMounts, type MountLine, mountKey } from './card-mounts.ts';
import type { CardReader } from './card-reader.ts';
import type { CardMount, CardReading } from './protocol.ts';

/** The mount table is looked at this often. */
const TABLE_MS = 2_500;

/** A card is read again this often while it is mounted: a camera may be attached and go on recording. */
const AGAIN_MS = 60_000;

/** One that could not be read is tried again sooner, and later each time it fails. */
const RETRY_MS = 10_000;

export type CardEvent =
  /** A card was read, for the first time or again. `reading.gap` says what is not known of it. */
  | { type: 'read'; mount: CardMount; reading: CardReading }
  /** The card at this mount point is not there any more. */
  | { type: 'gone'; mount: CardMount };

export interface CardWatchOptions {
  /** The mount table as text, and what it says. */
  table: () => string;
  parse: (table: string) => readonly MountLine[];
  /** Folders below which cards are mounted. */
  under: readonly string[];
  /** Mount points of the watched volumes in a table: they are no cards. */
  volumes: (mounts: readonly MountLine[]) => ReadonlySet<string>;
  reader: CardReader;
  clock: Clock;
  log: Log;
  onEvent: (event: CardEvent) => void;
}

export interface CardWatch {
  start(): void;
  stop(): void;
}

interface Known {
  mount: MountLine;
  isCard: boolean;
  failures: number;
  cancel: () => void;
}

/** Notices cards that are mounted and taken out, and reads what is on them. Never touches the card from this process. */
export function createCardWatch(options: CardWatchOptions): CardWatch {
  const { clock, log, reader, onEvent } = options;
  const known = new Map<string, Known>();
  let lastTable = '';
  let cancelTimer = (): void => {};
  let stopped = false;

  function lookAtTable(): void {
    try {
      const table = options.table();
      if (table !== lastTable) {
        lastTable = table;
        compare(options.parse(table));
      }
    } catch (error) {
      log.debug({ error: String(error) }, 'the mount table cannot be read');
    }
    cancelTimer = onNextBeat(clock, TABLE_MS, lookAtTable);
  }

  function compare(mounts: readonly MountLine[]): void {
    const now = new Map(cardMounts(mounts, options.under, options.volumes(mounts)).map((one) => [mountKey(one), one]));
    for (const [key, one] of known) {
      if (now.has(key)) continue;
      one.cancel();
      known.delete(key);
      if (one.isCard) onEvent({ type: 'gone', mount: one.mount });
    }
    for (const [key, mount] of now) {
      if (known.has(key)) continue;
      const fresh: Known = { mount, isCard: false, failures: 0, cancel: () => {} };
      known.set(key, fresh);
      void look(key, fresh);
    }
  }

  async function look(key: string, one: Known): Promise<void> {
    const found = await reader.look(one.mount);
    if (stopped) return;
    const isThere = known.get(key) === one;
    if (found.is === 'card') {
      one.isCard = true;
      onEvent({ type: 'read', mount: one.mount, reading: found.reading });
      // It went while it was read, and nobody was told yet.
      if (!isThere) onEvent({ type: 'gone', mount: one.mount });
    }
    if (!isThere) return;
    const wait = waitFor(one, found);
    if (wait === null) return;
    one.cancel = clock.after(wait, () => void look(key, one));
  }

  function waitFor(one: Known, found: Awaited<ReturnType<CardReader['look']>>): number | null {
    const where = { mountPoint: one.mount.mountPoint };
    if (found.is === 'no-card' && !one.isCard) {
      log.debug(where, 'mounted, and no card');
      // What holds something else is left alone until it is mounted again; what is empty may be recorded on.
      return found.empty ? AGAIN_MS : null;
    }
    if (found.is !== 'unknown') {
      one.failures = 0;
      return AGAIN_MS;
    }
    one.failures += 1;
    log.debug({ ...where, why: found.why }, 'could not be looked at');
    return Math.min(AGAIN_MS, RETRY_MS * one.failures);
  }

  return {
    start: lookAtTable,
    stop() {
      stopped = true;
      cancelTimer();
      for (const one of known.values()) one.cancel();
      reader.stop();
    },
  };
}
