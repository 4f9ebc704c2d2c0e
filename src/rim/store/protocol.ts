import type { FormatHour } from '../../core/assess/format-days.ts';
import type { KeptPlan } from '../../core/assess/kept-plans.ts';
import type { VolumeMoment } from '../../core/assess/moments.ts';
import type {
  BacklogFile,
  BacklogSum,
  CopyRead,
  CopyScope,
  KeptCopy,
  KnownShelf,
  KnownVersion,
  ListableFile,
  OtherCopy,
  ReadMark,
  ReportedCopy,
  ReportedSum,
  ScopeTally,
  ShelfFile,
  ShelfSum,
  UnreadReport,
} from '../../core/backup/copies.ts';
import type { FileHash } from '../../core/backup/copy-port.ts';
import type { CopiesWanted, ProjectCopies } from '../../core/backup/project-copies.ts';
import type { CardNote, InventoryHead } from '../../core/card-ports.ts';
import type { CopyTally } from '../../core/cards/copy-tally.ts';
import type { Candidate, InventoryFile } from '../../core/cards/inventory.ts';
import type { InventoryListHead } from '../../core/cards/inventory-list.ts';
import type { KeptCard } from '../../core/cards/kept-card.ts';
import type { ArrivedVersion, KnownListed, ReadVersion } from '../../core/cards/known-list.ts';
import type { Place } from '../../core/cards/reconciliation.ts';
import type { FaultCode } from '../../core/fault.ts';
import type { BookedHour, GrowthMark } from '../../core/forecast/booking.ts';
import type { CardList } from '../../core/intake/card-list.ts';
import type { Clip, FileRecord, FileStat, Severity } from '../../core/model.ts';
import type { SearchAnswer, SessionGroups } from '../../core/multicam-port.ts';
import type { NewMessage, QueuedMessage, ReportMessage, TryEnd } from '../../core/notify/queue-port.ts';
import type { AdvisoryNews, ArrivedSum, EndedRun, NotDecoded, ReadSum, Span } from '../../core/report-ports.ts';
import type {
  CataloguePort,
  ClipQuery,
  ForgetOnly,
  Grain,
  JoinedTakes,
  KeptSample,
  Move,
  ProjectSum,
  Removal,
  StoredAdvisory,
} from '../../core/store-ports.ts';

/*
 * What goes between the main thread and the store worker. Each call and each reply has one small value and one list;
 * long lists travel in pages, so that packing and unpacking them never holds the main thread up for long.
 */

/** Records in one message: packing or unpacking so many takes about 3 ms. Clips are ten times larger than files. */
export const PAGE = 2000;
export const CLIP_PAGE = 200;

/** One method: its small arguments, its list, and what comes back. */
interface Method<Args, Item, Value, Listed> {
  args: Args;
  item: Item;
  value: Value;
  listed: Listed;
}

/** `FilesDiff` as places in the list that was sent, so that no file travels back. */
export interface FilePlaces {
  fresh: number[];
  moved: { place: number; from: string }[];
  replacing: number[];
}

/** What the worker does; `at` is now, ms since 1970. */
export interface StoreMethods {
  compareListing: Method<{ volume: string; dir: string; dirs: string[] }, FileStat, FilePlaces, string>;
  compareFiles: Method<{ volume: string }, FileStat, FilePlaces, never>;
  putFiles: Method<{ at: number }, FileRecord, null, string>;
  filesOfUnits: Method<{ volume: string }, string, null, FileRecord>;
  unfinished: Method<{ volume: string; only: 'broken' | null; after: string | null }, never, string | null, FileRecord>;
  filesBelow: Method<
    { volume: string; only: 'unfinished' | null; after: string | null },
    string,
    string | null,
    FileRecord
  >;
  /** The first `looked` files of the list were looked at; the others are beside them. */
  finishUnit: Method<
    { volume: string; unit: string; clips: Clip[]; looked: number; at: number },
    FileRecord,
    null,
    never
  >;
  recall: Method<{ key: string }, never, string | null, never>;
  remember: Method<{ key: string; value: string }, never, null, never>;
  moveFiles: Method<{ volume: string; at: number }, Move, Awaited<ReturnType<CataloguePort['moveFiles']>>, never>;
  forget: Method<
    { volume: string; only: ForgetOnly | null; at: number },
    string,
    Awaited<ReturnType<CataloguePort['forget']>>,
    never
  >;
  putCardLists: Method<{ volume: string }, { path: string; list: CardList | null }, null, never>;
  joinTakes: Method<null, never, JoinedTakes, never>;
  projects: Method<CopiesWanted, never, null, ProjectSum>;
  clips: Method<ClipQuery, never, null, Clip>;
  lacking: Method<{ volume: string; newest: number }, never, null, Clip>;
  undecoded: Method<{ volume: string; newest: number }, never, null, Clip>;
  multicam: Method<
    { volume: string; project: string; known: boolean },
    never,
    Omit<SearchAnswer, 'sessions'>,
    SessionGroups
  >;
  counts: Method<{ volume: string | null }, never, { files: number; clips: number }, never>;
  condition: Method<null, never, 'sound' | 'lost', never>;
  advisories: Method<null, never, null, StoredAdvisory>;
  /** So many of the list are the state of advisories; the others are what channels are to be told. */
  putAdvisories: Method<{ advisories: number }, StoredAdvisory | NewMessage, null, never>;
  resumeMessages: Method<null, string, number, never>;
  nextMessage: Method<{ channel: string; least: Severity }, never, QueuedMessage | null, never>;
  beginMessage: Method<{ seq: number }, never, null, never>;
  withdrawMessages: Method<null, string, null, never>;
  endMessage: Method<{ seq: number; end: TryEnd }, never, null, never>;
  reportsOf: Method<
    { channel: string; day: string; now: number },
    never,
    { isMade: boolean; sentUntil: number | null },
    never
  >;
  beginReports: Method<{ channel: string; day: string; now: number }, never, null, never>;
  putReport: Method<ReportMessage, never, boolean, never>;
  arrived: Method<Span, never, null, ArrivedSum>;
  notDecoded: Method<{ span: Span; most: number }, never, null, NotDecoded>;
  hasOlder: Method<{ volume: string; at: number }, never, boolean, never>;
  copiesRead: Method<{ shelf: string; span: Span }, never, null, ReadSum>;
  endedRuns: Method<Span, never, null, EndedRun>;
  putEndedRun: Method<{ run: EndedRun; endedAt: number }, never, null, never>;
  news: Method<Span, never, null, AdvisoryNews>;
  putNews: Method<AdvisoryNews, never, null, never>;
  speedSamples: Method<null, never, null, KeptSample>;
  putSpeedSample: Method<KeptSample, never, null, never>;
  growth: Method<{ volume: string; sinceHour: number }, never, GrowthMark | null, BookedHour>;
  putGrowth: Method<{ volume: string; mark: GrowthMark }, BookedHour, null, never>;
  footageHours: Method<{ volume: string; project: string | null }, never, null, { hour: number; bytes: number }>;
  formatHours: Method<{ volume: string; project: string }, never, null, FormatHour>;
  moments: Method<{ volume: string; grain: Grain; since: number }, never, null, VolumeMoment>;
  putMoments: Method<{ volume: string; grain: Grain; forget: number | null }, VolumeMoment, null, never>;
  plans: Method<null, never, null, KeptPlan>;
  putPlan: Method<KeptPlan, never, null, never>;
  dropPlans: Method<{ project: string }, never, number, never>;
  shelves: Method<null, never, null, KnownShelf>;
  putShelf: Method<KnownShelf, never, null, never>;
  backlog: Method<
    { volume: string; shelf: string; rank: number; after: number | null },
    never,
    number | null,
    BacklogFile
  >;
  backlogSum: Method<{ volume: string; shelf: string }, never, BacklogSum, never>;
  putCopies: Method<null, KeptCopy, null, never>;
  putVersions: Method<null, KnownVersion, null, never>;
  moveCopy: Method<{ shelf: string; from: string; to: string }, never, null, never>;
  stalest: Method<{ scope: CopyScope; before: number; after: ReadMark | null; most: number }, never, null, ShelfFile>;
  tally: Method<{ scope: CopyScope; before: number }, never, ScopeTally, never>;
  unreported: Method<
    { volume: string; name: string; rank: number; after: number | null },
    never,
    number | null,
    FileRecord
  >;
  putReported: Method<null, ReportedCopy, null, never>;
  unreadReports: Method<{ volume: string; name: string; most: number }, never, null, UnreadReport>;
  settleReports: Method<null, ReportedCopy & { keep: boolean }, null, never>;
  reportedSums: Method<null, never, null, ReportedSum>;
  lateCopies: Method<{ shelf: string; volume: string; before: number }, never, { files: number; bytes: number }, never>;
  goodCopies: Method<FileHash & { size: number }, never, null, OtherCopy>;
  unlisted: Method<{ shelf: string; volume: string; most: number }, never, null, ListableFile>;
  putListed: Method<{ shelf: string }, string, null, never>;
  altered: Method<{ shelf: string; volume: string }, never, null, string>;
  badCopies: Method<{ shelf: string; volume: string; most: number }, never, null, ShelfFile>;
  dropCopies: Method<{ shelf: string }, string, null, never>;
  putReads: Method<{ shelf: string }, CopyRead, null, never>;
  shelfSums: Method<null, never, null, ShelfSum>;
  projectCopies: Method<{ wanted: CopiesWanted; readSince: number }, never, 'lost' | 'sound', ProjectCopies>;
  lostFiles: Method<{ volume: string; project: string | null; shelf: string }, never, null, ShelfFile>;
  backupNote: Method<{ key: string }, never, string | null, never>;
  putBackupNote: Method<{ key: string; text: string }, never, null, never>;
  removals: Method<{ volume: string; since: number }, never, null, Removal>;
  candidates: Method<null, InventoryFile, null, Candidate[]>;
  filesAt: Method<null, Place, null, Candidate>;
  copiesAt: Method<null, Place, CopyTally, never>;
  copiesBelow: Method<{ volume: string; folder: string; deep: boolean }, never, CopyTally, never>;
  versionsAt: Method<null, Place, null, ArrivedVersion>;
  /** False: there are more than `most`, and none of them are told. */
  versionsBelow: Method<{ volume: string; folder: string; most: number }, never, boolean, ArrivedVersion>;
  putRead: Method<null, ReadVersion, null, never>;
  inventoryHeads: Method<null, never, null, InventoryHead>;
  inventoryFiles: Method<{ id: string }, never, null, InventoryFile>;
  putInventory: Method<InventoryHead, InventoryFile, null, never>;
  dropInventory: Method<{ id: string }, never, boolean, never>;
  inventoryLists: Method<null, never, null, InventoryListHead>;
  inventoryListFiles: Method<{ inventory: string; place: string }, never, null, KnownListed>;
  putInventoryList: Method<InventoryListHead, KnownListed, null, never>;
  keptCards: Method<null, never, null, KeptCard>;
  putKeptCard: Method<KeptCard, never, null, never>;
  dropKeptCard: Method<{ inventory: string }, never, boolean, never>;
  cardNotes: Method<null, never, null, CardNote>;
  putCardNote: Method<CardNote, never, null, never>;
}

export type MethodName = keyof StoreMethods;

export type ToWorker =
  | { type: 'call'; id: number; method: MethodName; args: unknown; list: unknown[]; more: boolean }
  | { type: 'next'; id: number }
  | { type: 'close' };

export type FromWorker =
  | { type: 'opened'; notices: StoreNotice[] }
  | { type: 'refused'; failure: Failure }
  | { type: 'done'; id: number; value: unknown; list: unknown[]; more: boolean }
  | { type: 'failed'; id: number; failure: Failure }
  | { type: 'closed'; failure: Failure | null };

/** A fault in transit: errors keep neither their class nor their own fields when they are cloned. */
export interface Failure {
  code: FaultCode;
  message: string;
  cause: { name: string; message: string; code: string | null; errcode: number | null } | null;
}

/** Something found while opening that a person should read in the log. Nothing was deleted for any of them. */
export interface StoreNotice {
  code: 'catalogue-damaged' | 'ledger-damaged' | 'ledger-missing' | 'ledger-unknown' | 'unclean-stop' | 'migrated';
  message: string;
  /** The file that it is about; for a damaged one, where it was set aside. */
  path: string;
}

/** What the worker is started with. `at` is now, ms since 1970: the worker names files after it. */
export interface WorkerSettings {
  stateDir: string;
  at: number;
}
