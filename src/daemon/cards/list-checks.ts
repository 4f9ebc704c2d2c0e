import type { CopyPort, Pace, ReadItem, ReadOutcome } from '../../core/backup/copy-port.ts';
import { HISTORY_FOLDER } from '../../core/backup/manifest-file-name.ts';
import { NestedHistories } from '../../core/backup/mhl-nested.ts';
import type { ArrivedVersion, KnownList, ListPort, ReadVersion, SumStorePort } from '../../core/cards/known-list.ts';
import {
  checkList,
  filesToRead,
  type ListCheck,
  type ListSides,
  type ToRead,
  untrusted,
} from '../../core/cards/list-check.ts';
import { Fault, messageOf } from '../../core/fault.ts';
import { baseName, dirName, joinPath } from '../../core/intake/path-text.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import type { CardEntry } from './card-entry.ts';
import { keepPace } from './keep-pace.ts';

/** What could not be read, or relied on, is tried again after this long; each time later. */
const RETRY_MS = 30_000;
const LONGEST_RETRY_MS = 3_600_000;

/** With more files below its folder a history's list is set beside the listed places alone: then nothing is found renamed. */
const MOST_BELOW = 50_000;

export interface ListChecksDeps {
  /** Where a volume lies; `null`: it is not there now. */
  rootOf: (volume: string) => string | null;
  lists: ListPort;
  contents: SumStorePort;
  reader: Pick<CopyPort, 'readBack'>;
  /** How fast a volume may be read now. */
  pace: (volume: string) => Pace;
  trouble: StoreTrouble;
  clock: Clock;
  log: Log;
  digest: (text: string) => string;
  /** An entry's check is another one. */
  changed: () => void;
  /** A history lists other files than are known of it. */
  listed: (entry: CardEntry, list: KnownList) => void;
}

/** Compares what arrived with what its list says of contents; reads what is not known, one list after the other. */
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
  const { clock, contents, digest, lists, log, trouble } = deps;
  const stopped = new AbortController();
  const waiting = new Map<string, { entry: CardEntry; mark: string }>();
  const retries = new Map<string, { times: number; cancel: () => void }>();
  const forgotten = new Set<string>();
  let working: Promise<void> | null = null;
  let current: string | null = null;

  function want(entry: CardEntry, mark: string): void {
    if (stopped.signal.aborted) return;
    waiting.set(entry.head.id, { entry, mark });
    working ??= work().finally(() => {
      working = null;
    });
  }

  async function work(): Promise<void> {
    for (let next = waiting.entries().next(); !next.done; next = waiting.entries().next()) {
      const [id, { entry, mark }] = next.value;
      waiting.delete(id);
      if (stopped.signal.aborted) return;
      current = id;
      try {
        await check(entry, mark);
      } catch (error) {
        if (error instanceof Fault) trouble.refused(error);
        else log.error({ error: messageOf(error) }, `A list was not compared: ${messageOf(error)}`);
        tryLater(entry, mark);
      }
      current = null;
    }
  }

  async function check(entry: CardEntry, mark: string): Promise<void> {
    const { on, place } = entry.head;
    const root = on === null ? null : deps.rootOf(on.volume);
    if (on === null || root === null) return;
    const read = await lists.read(root, { place, base: on.base });
    if (stopped.signal.aborted) return;
    forgotten.delete(entry.head.id);
    if (!read.ok) {
      set(entry, untrusted(read.detail, mark, clock.now()));
      return tryLater(entry, mark);
    }
    if (read.list.kind === 'history') deps.listed(entry, read.list);
    let toRead: ToRead[] = [];
    const look = async (): Promise<void> => {
      const sides = await sidesOf(read.list, on);
      toRead = filesToRead(sides);
      set(entry, checkList(sides, mark, clock.now()));
    };
    await look();
    await readAll(on.volume, root, toRead, look);
    if (stopped.signal.aborted) return;
    if (toRead.length > 0) tryLater(entry, mark);
    else settle(entry);
  }

  function set(entry: CardEntry, check: ListCheck): void {
    // What is told of a list is to be known when the next daemon begins: a kill may come at any time.
    if (entry.check?.altered !== check.altered || entry.check.missing !== check.missing) entry.unsaved.urgent = true;
    entry.check = check;
    entry.unsaved.note = true;
    deps.changed();
  }

  /** All was compared. With nothing missing it is complete, though a file may be here under another name. */
  function settle(entry: CardEntry): void {
    const { head, check } = entry;
    if (check !== null && check.missing + check.arriving + check.altered === 0) entry.completeAt ??= clock.now();
    entry.unsaved = { ...entry.unsaved, note: true, urgent: true };
    deps.changed();
    retries.get(head.id)?.cancel();
    retries.delete(head.id);
    const { intact = 0, altered = 0, missing = 0, renamed = 0 } = check ?? {};
    const fields = { event: 'list-compared', id: head.id, place: head.place, intact, altered, missing, renamed };
    log.info(fields, `${display(head.place)}: what arrived was compared with this list.`);
  }

  function tryLater(entry: CardEntry, mark: string): void {
    const { id } = entry.head;
    const times = (retries.get(id)?.times ?? 0) + 1;
    retries.get(id)?.cancel();
    const wait = Math.min(LONGEST_RETRY_MS, RETRY_MS * 2 ** (times - 1));
    retries.set(id, { times, cancel: clock.after(wait, () => want(entry, mark)) });
  }

  async function sidesOf(list: KnownList, { volume, base }: { volume: string; base: string }): Promise<ListSides> {
    const below =
      list.kind === 'history' && base !== '' ? await contents.versionsBelow(volume, base, MOST_BELOW) : null;
    if (below !== null) return { list, base, now: ownOf(below, base), whole: true };
    const places = list.files.map(({ path }) => ({ volume, path: joinPath(base, path) }));
    return { list, base, now: await contents.versionsAt(places), whole: false };
  }

  /** Reads them one batch after the other; each is kept, and looked at, before the next but one begins. */
  async function readAll(
    volume: string,
    root: string,
    files: readonly ToRead[],
    look: () => Promise<void>,
  ): Promise<void> {
    if (files.length === 0) return;
    const items = files.map(
      ({ version: { path, size }, format }, id): ReadItem => ({ id, path, size, expected: null, also: [format] }),
    );
    const settled = async (outcomes: ReadOutcome[]): Promise<void> => {
      await contents.putRead(outcomes.flatMap((outcome) => readVersion(files[outcome.id]?.version, outcome)));
      await look();
    };
    const reading = deps.reader.readBack(
      { place: { volume: root }, pace: deps.pace(volume) },
      items,
      { settled },
      stopped.signal,
    );
    const stopPacing = keepPace(reading, () => deps.pace(volume), clock);
    const end = await reading.end.finally(stopPacing);
    if (end.ended === 'broken')
      log.warn(
        { volume, reason: end.trouble.reason },
        `Files were not compared with their list: ${end.trouble.message}`,
      );
  }

  return {
    update(entries, again) {
      for (const entry of entries) {
        const { head, check, reconciliation } = entry;
        if (head.source !== 'manifest' || reconciliation === null) continue;
        const found = reconciliation.files.map((file) => file.found);
        const mark = digest(JSON.stringify([head.takenAt, found]));
        const isSame = check?.mark === mark && !forgotten.has(head.id);
        const isOpen = check !== null && (check.pending > 0 || check.trouble !== null) && !retries.has(head.id);
        // What is missing of a history may turn up under another name.
        const mayHaveMoved = again && check !== null && check.missing > 0 && baseName(head.place) === HISTORY_FOLDER;
        if (isSame && !isOpen && !mayHaveMoved) continue;
        // What is under way looks at what is there at its end as well.
        if (current === head.id && isSame) continue;
        want(entry, mark);
      }
    },
    forget: (id) => void forgotten.add(id),
    drop(id) {
      waiting.delete(id);
      retries.get(id)?.cancel();
      retries.delete(id);
    },
    async stop() {
      stopped.abort();
      for (const { cancel } of retries.values()) cancel();
      await working;
    },
  };
}

/** Nothing of a file that was read as another version than the one that is known. */
function readVersion(version: ArrivedVersion | undefined, outcome: ReadOutcome): ReadVersion[] {
  if (outcome.is !== 'read' || version === undefined) return [];
  if (outcome.mtimeNs !== version.mtimeNs || outcome.bytes !== version.size) return [];
  const { volume, path, size, mtimeNs } = version;
  return [{ volume, path, size, mtimeNs, sums: { ...outcome.sums, xxh64: outcome.hash }, readAt: outcome.readAt }];
}

/** Without what belongs to histories further down, and without the lists themselves. */
function ownOf(versions: readonly ArrivedVersion[], base: string): ArrivedVersion[] {
  const within = ({ path }: ArrivedVersion) => path.slice(base.length + 1);
  const folders = versions.map((version) => dirName(within(version)));
  const roots = folders.filter((folder) => baseName(folder) === HISTORY_FOLDER).map(dirName);
  const nested = new NestedHistories(roots);
  return versions.filter((version) => nested.closest(within(version)) === '');
}
