import type { ListCheck, ToRead } from '../../core/cards/list-check.ts';
import { Fault, messageOf } from '../../core/fault.ts';
import { display } from '../../core/present/escape.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import type { CardEntry } from './card-entry.ts';
import { type CopiedListDeps, copiedList } from './copied-list.ts';
import type { Comparison } from './list-comparison.ts';
import { type ListOnCardDeps, listOnCard } from './list-on-card.ts';
import { type ListReadingDeps, readListed } from './list-reading.ts';

/** What could not be read, or relied on, is tried again after this long; each time later. */
const RETRY_MS = 30_000;
const LONGEST_RETRY_MS = 3_600_000;

export type ListChecksDeps = ListReadingDeps &
  CopiedListDeps &
  ListOnCardDeps & {
    contents: ListReadingDeps['contents'] & CopiedListDeps['contents'];
    trouble: StoreTrouble;
    digest: (text: string) => string;
    /** An entry's check is another one. */
    changed: () => void;
  };

/** Compares what arrived with what lists say of contents; reads what is not known, one list after the other. */
export interface ListChecks {
  /** `again`: something may be elsewhere now. Cheap where nothing changed. */
  update(entries: readonly CardEntry[], again: boolean): void;
  /** What stands in its list may be something else now. */
  forget(id: string): void;
  /** Nobody wants to hear of it any more. */
  drop(id: string): void;
  stop(): Promise<void>;
}

export function createListChecks(deps: ListChecksDeps): ListChecks {
  const { clock, digest, log, trouble } = deps;
  const stopped = new AbortController();
  const waiting = new Map<string, Comparison>();
  const retries = new Map<string, { times: number; cancel: () => void }>();
  const forgotten = new Set<string>();
  /** What the log was told last: the same again is no news. */
  const logged = new Map<string, string>();
  let working: Promise<void> | null = null;
  let current: string | null = null;

  function want(comparison: Comparison): void {
    if (stopped.signal.aborted) return;
    waiting.set(comparison.key, comparison);
    working ??= work().finally(() => {
      working = null;
    });
  }

  async function work(): Promise<void> {
    for (let next = waiting.entries().next(); !next.done; next = waiting.entries().next()) {
      const [key, comparison] = next.value;
      waiting.delete(key);
      if (stopped.signal.aborted) return;
      current = key;
      try {
        await compare(comparison);
      } catch (error) {
        if (error instanceof Fault) trouble.refused(error);
        else log.error({ error: messageOf(error) }, `A list was not compared: ${messageOf(error)}`);
        tryLater(comparison);
      }
      current = null;
    }
  }

  async function compare(comparison: Comparison): Promise<void> {
    const opened = await comparison.open();
    if (opened === null || stopped.signal.aborted) return;
    forgotten.delete(comparison.key);
    let toRead: ToRead[] = [];
    const look = async (): Promise<void> => {
      const found = await opened();
      toRead = found.toRead;
      set(comparison, found.check);
    };
    await look();
    await readListed(deps, toRead, look, stopped.signal);
    if (stopped.signal.aborted) return;
    if (toRead.length > 0 || comparison.known()?.trouble != null) tryLater(comparison);
    else settle(comparison);
  }

  function set(comparison: Comparison, check: ListCheck): void {
    const { entry } = comparison;
    const known = comparison.known();
    // What is told of a list is to be known when the next daemon begins: a kill may come at any time.
    if (known?.altered !== check.altered || known.missing !== check.missing) entry.unsaved.urgent = true;
    comparison.keep({ ...check, since: check.altered === 0 ? null : (known?.since ?? clock.now()) });
    entry.unsaved.note = true;
    deps.changed();
  }

  function settle(comparison: Comparison): void {
    const { key, entry } = comparison;
    comparison.settled();
    entry.unsaved = { ...entry.unsaved, note: true, urgent: true };
    deps.changed();
    retries.get(key)?.cancel();
    retries.delete(key);
    const { intact = 0, altered = 0, missing = 0, renamed = 0 } = comparison.known() ?? {};
    const counts = { intact, altered, missing, renamed };
    const text = JSON.stringify(counts);
    if (logged.get(key) === text) return;
    logged.set(key, text);
    const fields = { event: 'list-compared', id: entry.head.id, place: comparison.place, ...counts };
    log.info(fields, `${display(comparison.place)}: what arrived was compared with this list.`);
  }

  function tryLater(comparison: Comparison): void {
    const { key } = comparison;
    const times = (retries.get(key)?.times ?? 0) + 1;
    retries.get(key)?.cancel();
    const wait = Math.min(LONGEST_RETRY_MS, RETRY_MS * 2 ** (times - 1));
    retries.set(key, { times, cancel: clock.after(wait, () => want(comparison)) });
  }

  function comparisonsOf(entry: CardEntry): Comparison[] {
    const { head, lists, reconciliation } = entry;
    if (reconciliation === null || (head.source === 'card' && lists.size === 0)) return [];
    const found = reconciliation.files.map((file) => file.found);
    const markOf = (list: unknown) => digest(JSON.stringify([list, found]));
    if (head.source === 'manifest') return [copiedList(deps, entry, markOf(head.takenAt))];
    const whole = [...lists.values()].filter((list) => list.head.state === 'whole');
    return whole.map((list) => listOnCard(deps, entry, list.head, markOf(list.head.stamp)));
  }

  function consider(comparison: Comparison, again: boolean): void {
    const { key, mark, mayMove } = comparison;
    const check = comparison.known();
    const isSame = check?.mark === mark && !forgotten.has(key);
    const isOpen = check !== null && (check.pending > 0 || check.trouble !== null) && !retries.has(key);
    // What is missing may be there under another name; what is altered may have been copied again with its times.
    const mayBeOther = again && check !== null && ((check.missing > 0 && mayMove) || check.altered > 0);
    if (isSame && !isOpen && !mayBeOther) return;
    // What is under way looks at what is there at its end as well.
    if (current === key && isSame) return;
    want(comparison);
  }

  return {
    update(entries, again) {
      for (const entry of entries) for (const one of comparisonsOf(entry)) consider(one, again);
    },
    forget: (id) => void forgotten.add(id),
    drop(id) {
      const isIts = (key: string) => key === id || key.startsWith(`${id}\n`);
      for (const key of [...waiting.keys()].filter(isIts)) waiting.delete(key);
      for (const [key, { cancel }] of [...retries].filter(([key]) => isIts(key))) {
        cancel();
        retries.delete(key);
      }
    },
    async stop() {
      stopped.abort();
      for (const { cancel } of retries.values()) cancel();
      await working;
    },
  };
}
