import type { CardStorePort, CopyLookPort } from '../../core/card-ports.ts';
import type { Candidate } from '../../core/cards/inventory.ts';
import {
  arrivedPaths,
  expectedPlacesInSteps,
  isComplete,
  reconcileInSteps,
  stepProgress,
} from '../../core/cards/reconcile.ts';
import type { Claim, Reconciliation } from '../../core/cards/reconciliation.ts';
import { Fault, messageOf } from '../../core/fault.ts';
import type { Clock, Log } from '../../core/ports.ts';
import type { CataloguePort } from '../../core/store-ports.ts';
import type { StoreTrouble } from '../store-trouble.ts';
import { inSteps } from '../turns.ts';
import type { CardBook } from './card-book.ts';
import type { CardCopies } from './card-copies.ts';
import { type CardEntry, isOpen, type LiveVolume, notLiveOf } from './card-entry.ts';
import type { CopiedCards } from './copied-cards.ts';
import type { KeptCards } from './kept-cards.ts';
import type { ListChecks } from './list-checks.ts';

/** Changes are gathered for this long. After a pass that took long it is longer: passes take a twentieth of the time at most. */
const GATHER_MS = 1_000;
const REST = 20;

/** What has arrived is asked for again this often at most, to find out whether it is still there. */
const AGAIN_MS = 30_000;

/** What had arrived is written down this often at most. */
const NOTE_MS = 10_000;

/** A store that refuses is asked again after this long. */
const RETRY_MS = 5_000;

export interface CardPassesDeps {
  volumes: () => readonly LiveVolume[];
  catalogue: Pick<CataloguePort, 'candidates'>;
  store: CardStorePort;
  trouble: StoreTrouble;
  clock: Clock;
  log: Log;
  changed: () => void;
  book: CardBook;
  copied: CopiedCards;
  copies: CardCopies;
  checks: ListChecks;
  kept: KeptCards;
  look: CopyLookPort;
}

/** Sets the inventories beside what has arrived, when there is a reason to. */
export interface CardPasses {
  /** Something changed on the volumes. */
  touched(): void;
  /** There are other copies. */
  copiesChanged(): void;
  /** Something is known otherwise: it is kept and told. */
  soon(): void;
  /** The first pass; resolves when it is through, or was told as failed. */
  first(): Promise<void>;
  /** Does something with the book while no pass does, then a pass. Failures are told, unless it `mustWork`: then it rejects. */
  exclusive(work: () => Promise<void>, options?: { mustWork: boolean }): Promise<void>;
  /** Every entry set beside what is there now, also those that nothing is waited for. */
  lookUpAll(): Promise<CardEntry[]>;
  stop(): Promise<void>;
}

export function createCardPasses(deps: CardPassesDeps): CardPasses {
  const { book, catalogue, checks, clock, copied, copies, kept, log, look, store, trouble } = deps;
  let line: Promise<void> = Promise.resolve();
  let plannedAt = Number.POSITIVE_INFINITY;
  let cancel = (): void => {};
  let rest = 0;
  let askAgain = false;
  let askedAt = Number.NEGATIVE_INFINITY;
  let notedAt = Number.NEGATIVE_INFINITY;
  let stopped = false;

  function plan(ms: number): void {
    const at = clock.ticks() + Math.max(ms, rest);
    if (stopped || at >= plannedAt) return;
    cancel();
    plannedAt = at;
    cancel = clock.after(Math.max(0, at - clock.ticks()), () => {
      plannedAt = Number.POSITIVE_INFINITY;
      void enqueue(pass).catch(() => {});
    });
  }

  /** One thing at a time; a failure is told and tried again by the next pass. */
  function enqueue(work: () => Promise<void>): Promise<void> {
    const done = line.then(work);
    line = done.catch((error: unknown) => {
      // What the store refuses is told by whoever tells of the store; anything else is a defect of ours.
      if (error instanceof Fault) trouble.refused(error);
      else log.error({ error: messageOf(error) }, `The cards were not compared: ${messageOf(error)}`);
      plan(RETRY_MS);
    });
    return done;
  }

  async function pass(): Promise<void> {
    const began = clock.ticks();
    const again = askAgain && began - askedAt >= AGAIN_MS;
    if (again) {
      askAgain = false;
      askedAt = began;
    }
    const now = clock.now();
    const open: CardEntry[] = [];
    for (const entry of book.entries()) {
      if (isOpen(entry, now)) open.push(entry);
      else if (!entry.unsaved.inventory && !entry.unsaved.note) release(entry);
    }
    const reconciliations = await compare(open, again);
    checks.update(open, again);
    await copies.update(open);
    await kept.update(open, copies.round());
    await copied.update(reconciliations, store, now);
    await copied.count(look, copies.round(), again);
    await save();
    rest = (clock.ticks() - began) * REST;
    if (askAgain) plan(AGAIN_MS - (clock.ticks() - askedAt));
    deps.changed();
  }

  /** The answers of the catalogue go to what is waited for. */
  async function compare(entries: readonly CardEntry[], again: boolean): Promise<Reconciliation[]> {
    for (const entry of entries) {
      await book.open(entry);
      await ask(entry, again);
    }
    const claims = entries.map(
      ({ head, files, candidates, before }): Claim => ({
        inventory: { ...head, files: files ?? [] },
        candidates: candidates ?? [],
        before,
      }),
    );
    const places = await inSteps(expectedPlacesInSteps(claims), clock);
    const found = places.length === 0 ? [] : ofVolumes(await store.filesAt(places));
    const reconciliations = await inSteps(reconcileInSteps(claims, found), clock);
    for (const [place, entry] of entries.entries()) {
      const reconciliation = reconciliations[place];
      if (reconciliation !== undefined) note(entry, reconciliation);
    }
    return reconciliations;
  }

  async function ask(entry: CardEntry, again: boolean): Promise<void> {
    const { files, candidates, reconciliation, head } = entry;
    if (files === null) return;
    // The files of a manifest have their places.
    if (head.source === 'manifest') {
      entry.candidates = files.map(() => []);
      return;
    }
    const known = again ? null : candidates;
    const wanted = [...files.keys()].filter((place) => {
      const verdict = reconciliation?.files[place]?.verdict;
      return known === null || (verdict !== 'arrived' && verdict !== 'arrived-renamed');
    });
    const answers = await catalogue.candidates(wanted.flatMap((place) => files[place] ?? []));
    const all: Candidate[][] = known === null ? files.map(() => []) : [...known];
    for (const [index, place] of wanted.entries()) all[place] = ofVolumes(answers[index] ?? []);
    entry.candidates = all;
  }

  /** What is known of volumes that are no longer configured is no arrival. */
  function ofVolumes(found: readonly Candidate[]): Candidate[] {
    const names = new Set(deps.volumes().map(({ name }) => name));
    return found.filter(({ volume }) => names.has(volume));
  }

  function note(entry: CardEntry, reconciliation: Reconciliation): void {
    const now = clock.now();
    const progress = stepProgress(entry.progress, reconciliation, now);
    if (progress.mark !== entry.progress?.mark) entry.unsaved.note = true;
    entry.progress = progress;
    entry.reconciliation = reconciliation;
    entry.before = new Set(arrivedPaths(reconciliation));
    if (entry.completeAt !== null || !isComplete(reconciliation)) return;
    // As last seen it is: whether it is here shows when the volume is.
    if (notLiveOf(reconciliation, deps.volumes()).length > 0) return;
    entry.completeAt = now;
    entry.unsaved.note = true;
    notedAt = Number.NEGATIVE_INFINITY;
  }

  async function save(): Promise<void> {
    const due = clock.ticks() - notedAt >= NOTE_MS;
    await book.save(() => due);
    if (!due) {
      if (book.entries().some(({ unsaved }) => unsaved.note)) plan(NOTE_MS);
      return;
    }
    notedAt = clock.ticks();
    const text = copied.toKeep();
    if (text !== null) await book.keepNote('copied', text);
  }

  function touched(): void {
    // A pass comes soon anyway.
    if (askAgain && plannedAt <= clock.ticks() + Math.max(GATHER_MS, rest)) return;
    const now = clock.now();
    if (!copied.isWaiting() && !book.entries().some((entry) => isOpen(entry, now))) return;
    askAgain = true;
    plan(GATHER_MS);
  }

  return {
    touched,
    soon: () => plan(GATHER_MS),
    copiesChanged() {
      copies.changed();
      plan(GATHER_MS);
    },
    first: () => enqueue(pass).catch(() => {}),
    async exclusive(work, options) {
      const done = enqueue(work);
      // A pass first finds out what that has changed.
      plan(0);
      await (options?.mustWork === true ? done : done.catch(() => {}));
    },
    async lookUpAll() {
      // What is read for this is let go again.
      plan(GATHER_MS);
      await enqueue(async () => {
        const closed = book.entries().filter(({ reconciliation }) => reconciliation === null);
        await compare(closed, true);
        await copies.update(book.entries(), true);
      });
      return book.entries();
    },
    async stop() {
      stopped = true;
      cancel();
      await enqueue(async () => {
        await book.save(() => true);
        const text = copied.toKeep();
        if (text !== null) await book.keepNote('copied', text);
      }).catch(() => {});
    },
  };
}

/** Nothing is waited for any more: its files lie in the ledger. */
function release(entry: CardEntry): void {
  entry.files = null;
  entry.candidates = null;
  entry.reconciliation = null;
  entry.copies = null;
  entry.before = new Set();
}
