import type { Assessment, CardAssessment } from '../../core/assess/assessment.ts';
import type { CopyPort, Pace } from '../../core/backup/copy-port.ts';
import type { CardStorePort, CopyLookPort } from '../../core/card-ports.ts';
import type { CardListPort, InventoryListPort } from '../../core/cards/inventory-list.ts';
import { isKept } from '../../core/cards/kept-card.ts';
import type { ListPort, SumStorePort } from '../../core/cards/known-list.ts';
import { systemName } from '../../core/intake/system-names.ts';
import type { FileStat, Instant, PathText } from '../../core/model.ts';
import type { Clock, Log } from '../../core/ports.ts';
import { display } from '../../core/present/escape.ts';
import type { RootPort } from '../../core/root-port.ts';
import type { CataloguePort, LedgerPort } from '../../core/store-ports.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import { type CardBook, createCardBook } from './card-book.ts';
import { createCardCopies } from './card-copies.ts';
import { assessmentOf, type CardEntry, isOpen, type LiveVolume } from './card-entry.ts';
import { createCardListReads } from './card-list-reads.ts';
import { createCardPasses } from './card-passes.ts';
import { type CopiedCards, createCopiedCards } from './copied-cards.ts';
import { type CardRead, createInventoryTaker } from './inventory-taker.ts';
import { createKeptCards } from './kept-cards.ts';
import { createListChecks } from './list-checks.ts';
import { createManifestQueue } from './manifest-queue.ts';

/** A watched volume, as far as cards go. */
export interface CardVolume extends LiveVolume {
  root: Pick<RootPort, 'manifest'>;
  /** Where it lies, absolute. */
  path: string;
  /** Every folder was read once since the start. */
  complete(): boolean;
}

export interface CardFlowDeps {
  volumes: () => readonly CardVolume[];
  catalogue: Pick<CataloguePort, 'candidates'>;
  ledger: Pick<LedgerPort, 'putInventory' | 'dropInventory'>;
  store: CardStorePort;
  look: CopyLookPort;
  lists: ListPort;
  /** Lists on mounted cards, and what is kept of them. */
  cardLists: CardListPort;
  keptLists: InventoryListPort;
  contents: SumStorePort;
  reader: Pick<CopyPort, 'readBack'>;
  /** Footage with fewer verified copies is exposed. */
  wantedCopies: (volume: string) => number;
  /** How fast a volume may be read now. */
  pace: (volume: string) => Pace;
  trouble: StoreTrouble;
  clock: Clock;
  log: Log;
  /** Seconds without anything more after which a copy counts as broken off. */
  stalledAfter: number;
  /** A short text of letters and digits, the same for the same text, another for any other. */
  digest: (text: string) => string;
  /** What `current` gives has changed. */
  changed: () => void;
}

export interface CardFlow {
  /** Takes up what is kept, and sets it beside what is known of the volumes. */
  start(): Promise<void>;
  /** A card at this mount point was read, for the first time or again. */
  read(mountPoint: string, reading: CardRead): void;
  /** The card at this mount point is not there any more. */
  gone(mountPoint: string): void;
  /** Files came to a volume or changed there. Cheap. */
  noticed(volume: string, files: readonly FileStat[]): void;
  /** Something on the volumes changed: what arrived is compared anew soon. Cheap; may be called for every file. */
  touched(): void;
  /** There are other copies now. Cheap. */
  copiesChanged(): void;
  /** Every folder of a volume was read once. */
  swept(volume: string): void;
  /** What is shown: cards that are there, what is incomplete, and what was complete a day ago or less. */
  current(): Pick<Assessment, 'cards' | 'unseen' | 'onCards'>;
  /** All inventories that are kept, set beside what is there now. */
  all(): Promise<CardAssessment[]>;
  /** A person says that a card is kept as it is (`by`), or no longer (`null`). What is told of it then; why not, in words. */
  say(id: string, by: string | null): Promise<{ card: CardAssessment } | { problem: string }>;
  /** Hears no more of an inventory; `null`: there is none with this id. What it told is returned. */
  drop(id: string): Promise<CardAssessment | null>;
  stop(): Promise<void>;
}

/** A copied card is not spoken of while its copy may be going on. */
const UNSEEN_QUIET_MS = 60_000;

/** inventory > candidates > reconcile > keep, for cards and manifests; one thing at a time. */
export function createCardFlow(deps: CardFlowDeps): CardFlow {
  const { clock, log } = deps;
  const copied: CopiedCards = createCopiedCards();
  const book: CardBook = createCardBook(deps);
  const stalledMs = deps.stalledAfter * 1000;
  const manifests = createManifestQueue({
    root: (volume) => deps.volumes().find(({ name }) => name === volume)?.root,
    onManifest: (manifest) => passes.exclusive(() => taker.manifest(manifest)),
    clock,
    log,
  });
  const copies = createCardCopies(deps);
  const checks = createListChecks({
    ...deps,
    rootOf: (volume) => deps.volumes().find(({ name, live }) => name === volume && live())?.path ?? null,
    changed: () => {
      passes.soon();
      deps.changed();
    },
    listed: (entry, list) => void passes.exclusive(() => taker.listed(entry, list)),
  });
  const taker = createInventoryTaker({ ...deps, book, listChanged: checks.forget });
  const kept = createKeptCards(deps);
  const passes = createCardPasses({ ...deps, book, copied, copies, checks, kept });
  const listReads = createCardListReads({ ...deps, book, exclusive: (work) => passes.exclusive(work) });
  /** Since when each volume is watched: what lay there before is no arrival. */
  let began: Record<string, Instant> = {};

  async function restore(): Promise<void> {
    await book.restore();
    began = parseTimes(book.noteOf('began'));
    copied.restore(book.noteOf('copied') ?? '[]');
  }

  /** Of a volume that is still being read a file may be anything; when it came is told by its change time. */
  function arrivedOf(volume: string, files: readonly FileStat[]): { file: FileStat; at: Instant }[] {
    const since = began[volume];
    if (since === undefined) return [];
    const now = clock.now();
    const live = deps.volumes().some(({ name, complete }) => name === volume && complete());
    return files.flatMap((file) => {
      if (isThrownAway(file.path)) return [];
      const at = live ? now : Math.min(now, Number(file.ctimeNs / 1_000_000n));
      return at < since ? [] : [{ file, at }];
    });
  }

  /** Until every volume was read what is missing may only not have been found yet. */
  function patience(): number {
    const found = deps.volumes().every(({ complete, live }) => complete() || !live());
    return found ? stalledMs : Number.POSITIVE_INFINITY;
  }

  /** Those that are there first, then the newest. */
  function assessed(entries: readonly CardEntry[], now: Instant): CardAssessment[] {
    const world = { stalledMs: patience(), volumes: deps.volumes() };
    return entries
      .toSorted(
        (one, other) =>
          Number(other.mountedAt !== null) - Number(one.mountedAt !== null) || other.head.takenAt - one.head.takenAt,
      )
      .flatMap((entry) => assessmentOf(entry, now, world) ?? []);
  }

  return {
    async start() {
      await passes.exclusive(restore);
      await passes.first();
    },
    read(mountPoint, reading) {
      void passes.exclusive(async () => {
        await taker.reading(mountPoint, reading);
        listReads.seen(mountPoint, reading);
      });
    },
    gone(mountPoint) {
      void passes.exclusive(async () => {
        for (const entry of book.entries()) if (entry.mountedAt === mountPoint) book.leave(entry);
      });
    },
    noticed(volume, files) {
      const arrived = arrivedOf(volume, files);
      for (const { file, at } of arrived) copied.note(volume, [file], at);
      manifests.note(
        volume,
        arrived.map(({ file }) => file),
      );
      passes.touched();
    },
    touched: passes.touched,
    copiesChanged: passes.copiesChanged,
    swept(volume) {
      if (began[volume] === undefined) {
        began = { ...began, [volume]: clock.now() };
        void passes.exclusive(() => book.keepNote('began', JSON.stringify(began)));
      }
      passes.touched();
    },
    current() {
      const now = clock.now();
      const shown = book.entries().filter((entry) => isOpen(entry, now));
      return {
        cards: assessed(shown, now),
        unseen: copied.unseen(now, Math.min(UNSEEN_QUIET_MS, patience())),
        onCards: kept.onCards(
          shown,
          deps.volumes().map(({ name }) => name),
        ),
      };
    },
    async all() {
      return assessed(await passes.lookUpAll(), clock.now());
    },
    async say(id, by) {
      const [entry] = (await passes.lookUpAll()).filter(({ head }) => head.id === id);
      if (entry === undefined) return { problem: `no card has the id ${display(id)}` };
      const name = display(entry.head.name);
      if (entry.head.source === 'manifest')
        return { problem: `${name} is a list that came with footage; only a card whose files were read can be kept` };
      if (by === null && !isKept(entry.kept)) return { problem: `nobody said that ${name} is kept` };
      const said = by === null ? null : { inventory: id, saidAt: clock.now(), saidBy: by, endedAt: null, lacking: 0 };
      await passes.exclusive(() => book.say(entry, said), { mustWork: true });
      const card = assessmentOf(entry, clock.now(), { stalledMs: patience(), volumes: deps.volumes() });
      return card === null ? { problem: `what arrived of ${name} could not be looked up` } : { card };
    },
    async drop(id) {
      const [entry] = (await passes.lookUpAll()).filter(({ head }) => head.id === id);
      if (entry === undefined) return null;
      const told = assessmentOf(entry, clock.now(), { stalledMs: patience(), volumes: deps.volumes() });
      await passes.exclusive(() => book.drop(entry), { mustWork: true });
      checks.drop(id);
      return told;
    },
    async stop() {
      manifests.stop();
      listReads.stop();
      await checks.stop();
      await passes.stop();
    },
  };
}

function isThrownAway(path: PathText): boolean {
  return path.split('/').some((name, depth) => systemName(name, depth) === 'trash');
}

function parseTimes(text: string | null): Record<string, Instant> {
  try {
    return text === null ? {} : (JSON.parse(text) as Record<string, Instant>);
  } catch {
    return {};
  }
}
