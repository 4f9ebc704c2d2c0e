import type { FormatHour } from './assess/format-days.ts';
import type { KeptPlan } from './assess/kept-plans.ts';
import type { VolumeMoment } from './assess/moments.ts';
import type { SpeedSample } from './assess/speed-sample.ts';
import type { CopiesWanted } from './backup/project-copies.ts';
import type { Candidate, Inventory, InventoryFile } from './cards/inventory.ts';
import type { BookedHour, GrowthMark } from './forecast/booking.ts';
import type { CardList } from './intake/card-list.ts';
import type { Area, Clip, FileRecord, FileStat, Instant, Kind, PathText } from './model.ts';
import type { NewMessage } from './notify/queue-port.ts';

/* What is known: the catalogue can be rebuilt from the files, the ledger cannot. */

/**
 * Clips of one format, whatever they are for: proxies and renders have theirs too. Counts names: footage under two
 * hard-linked names is two clips here, with the bytes of both.
 */
export interface FormatSum {
  codec: string | null;
  width: number | null;
  height: number | null;
  frameRate: { num: number; den: number } | null;
  clips: number;
  bytes: number;
  /** Bytes of the clips whose duration is known: what may be divided by the seconds. */
  timedBytes: number;
  durationSeconds: number;
}

/**
 * Running sums of one project (or of `shared`, `unassigned`, `trash`: then `project` is null). All bytes but those of
 * `formats` are of files, exact, and count a content with several hard links once: under a name that is footage outside
 * the trash if it has one.
 */
export interface ProjectSum {
  volume: string;
  area: 'project' | 'shared' | 'unassigned' | 'trash';
  project: string | null;
  bytes: number;
  footageBytes: number;
  /** Clips of footage, and their time: a proxy or a render of a take does not double its hours. */
  clips: number;
  durationSeconds: number;
  byKind: Partial<Record<Kind, number>>;
  /** Proxies and renders: files, and clips with their time. Which of them could be made again is not looked at here. */
  made: { clips: number; bytes: number; durationSeconds: number };
  /** Of clips of footage. */
  formats: FormatSum[];
  /**
   * Footage with fewer verified copies than wanted; `null` when the ledger was lost and is not yet read again. Nothing in
   * the trash is exposed: its owner gave it up.
   * - `bytes`: of files in any state (arriving, ready, refused), clip or not, each with too few copies of its own;
   * - `clips`, `durationSeconds`: of clips, covered when every file of their unit is, sidecars too;
   * - `since`: when the first of that footage was seen. A rename keeps it; a catalogue that was lost begins anew.
   */
  exposed: { bytes: number; clips: number; durationSeconds: number; since: Instant | null } | null;
}

/** A file that is known as ready under another path. It has one name only: under the other it is no longer. */
export interface MovedFile {
  file: FileStat;
  from: PathText;
}

/** Files that are not as they are known, each in one of the lists. */
export interface FilesDiff {
  /** New, changed, or not yet ready. */
  fresh: FileStat[];
  /**
   * Of a known ready file the inode, size and modification time, and only one name each; the inode is not 0. Not the
   * device, which is another after each mount, nor the change time, which a rename changes. None that is arriving already.
   */
  moved: MovedFile[];
  /** Fresh, in the place of a ready file of one name and another inode: that one may turn up elsewhere. */
  replacing: FileStat[];
}

export interface ListingDiff extends FilesDiff {
  /**
   * Files that were known in this folder and are no longer there, and folders with all that is known below them. Of a folder
   * whose name a file has now, the files.
   */
  gone: PathText[];
}

/** A part of a long answer; `next` asks for the one after it, `null`: this was the last. */
export interface FilesPage {
  files: FileRecord[];
  next: string | null;
}

/** `file`: as it is placed under its new path. Ready: it stays what it is. Arriving: it has to settle there. */
export interface Move {
  from: PathText;
  file: FileRecord;
}

/** `more`: not all folders were looked through. `changed`: where clips became one, or came apart. */
export interface JoinedTakes {
  more: boolean;
  changed: { volume: string; project: string | null }[];
}

export type ForgetOnly = 'renamed' | 'files' | 'left-out';

export interface ClipQuery {
  volume?: string;
  project?: string;
  /** Newest first by `readyAt`, at most so many. */
  newest?: number;
}

/** The catalogue: can be rebuilt from the files. Each call is one transaction. */
export interface CataloguePort {
  /** Compares the whole content of a folder with what is known; writes nothing. */
  compareListing(volume: string, dir: PathText, files: FileStat[], dirs: PathText[]): Promise<ListingDiff>;
  /** Compares some files with what is known; writes nothing. */
  compareFiles(volume: string, files: FileStat[]): Promise<FilesDiff>;
  /**
   * Notes files as they are now (insert or update by volume + path). Sums follow. A known file that is no sidecar and is
   * another one now (`compareSeen`), or no longer ready, takes the clips of its unit along: what they tell is no longer
   * true. They come back with `finishUnit`.
   *
   * The other names of a content that is put with several are known with as many from then on.
   *
   * A file that is put as arriving, and is ready and the same by now, stays ready: a unit may be finished between a
   * comparison and this. The paths of those come back.
   */
  putFiles(files: FileRecord[]): Promise<PathText[]>;
  /** Files of these units, one unit after the other, each by path. */
  filesOfUnits(volume: string, units: string[]): Promise<FileRecord[]>;
  /**
   * What a start takes up again: every file that is not ready (refused ones are judged again), and the files of units that
   * lost a file and were not finished since (`broken`: only those). At most 5,000 at a time, each once; what changes between
   * two parts may be in neither.
   */
  unfinished(volume: string, only?: 'broken' | null, after?: string | null): Promise<FilesPage>;
  /**
   * What is known of files and folders with all below them, one path after the other, each in parts as `unfinished` is.
   * `unfinished`: only what that would tell of.
   */
  filesBelow(volume: string, paths: PathText[], only?: 'unfinished' | null, after?: string | null): Promise<FilesPage>;
  /**
   * The unit is whole: its files become ready, and its clips (none of a project file, several where two pictures share a
   * name; each with a `unit` of its own that begins with this one) replace the earlier ones.
   *
   * `beside`: files of the unit that were ready before and nobody looked at now. One that was forgotten meanwhile stays so;
   * then what was read tells of another unit than there is: the clips stay as they are, and the unit stays unfinished.
   */
  finishUnit(volume: string, unit: string, files: FileRecord[], clips: Clip[], beside?: FileRecord[]): Promise<void>;
  /**
   * Known ready files are under other paths now. When they were first seen is kept. Units that lost or got a ready file
   * are grouped again from their ready files: what was read of a clip, when it was ready and on what evidence, go with
   * the file that it was read from (core/intake/regroup.ts). There are no clips in the trash.
   *
   * `left`: new paths of those that are not known as they were under their old path: nothing was done with them. `again`:
   * units that must settle once more: a clip of theirs was never read, or files are on their way to them.
   */
  moveFiles(volume: string, moves: Move[]): Promise<{ left: PathText[]; again: string[] }>;
  /**
   * Removes files and folders with all below them. The clips of a unit go when it lost more than sidecars, or has only
   * sidecars and refused files left. Units that still have files are returned to be grouped again.
   *
   * A file of one name whose inode is known under another path by now (with its size and time, unless it was arriving) was
   * renamed: it is not in `files` and `bytes`. `renamed`: only such files are removed. `files`: only files of these very
   * paths, nothing below. `first`: the first of those that are counted, in order of folder and name.
   *
   * What is counted is also recorded as removed (`LedgerPort.removals`), but for `left-out`: what lies where it lay and is
   * no longer to be counted, and what was never meant to stay.
   */
  forget(
    volume: string,
    paths: PathText[],
    only?: ForgetOnly,
  ): Promise<{ units: string[]; files: number; bytes: number; first: PathText | null }>;
  /** Keeps what lists of cards say; `null`: nothing. Goes when the list's file goes, and moves with it. */
  putCardLists(volume: string, lists: { path: PathText; list: CardList | null }[]): Promise<void>;
  /**
   * Looks through some of the folders in which clips came or went since for clips that are one take by what they carry
   * (core/intake/join.ts), and puts the take in their place; one that is no more comes apart. To be called until there is no
   * `more`. A take is one clip for all that reads clips; put, moved and removed are its parts as they were read.
   */
  joinTakes(): Promise<JoinedTakes>;
  /** `byVolume`: where another number of copies is wanted. */
  projects(wantedCopies: number, byVolume?: CopiesWanted['byVolume']): Promise<ProjectSum[]>;
  /** Clips of footage of a volume of which parts or frames are known to be missing, newest first, at most so many. */
  lacking(volume: string, newest: number): Promise<Clip[]>;
  /** Clips of picture and sound outside the trash that no reader could read, newest first, at most so many. */
  undecoded(volume: string, newest: number): Promise<Clip[]>;
  clips(query: ClipQuery): Promise<Clip[]>;
  /**
   * Bytes of the footage on a volume, or of one project there, by the hour, since 1970, in which its files were changed last; in order of
   * time. Reads all of these files.
   */
  footageHours(volume: string, project?: string): Promise<{ hour: number; bytes: number }[]>;
  /**
   * Bytes of the clips of footage of one project, by format and by the hour, since 1970, in which they were recorded, or came where
   * that is not known. Reads all of these clips.
   */
  formatHours(volume: string, project: string): Promise<FormatHour[]>;
  /** Of one volume, or of all. */
  counts(volume?: string): Promise<{ files: number; clips: number }>;
  /**
   * For each file of an inventory, in order, the files of all volumes that may be its copy (at most 20 each): of that size
   * and that name in any case; where there is none, of that size and modification time (to 2 s) under another name; of a
   * file without size, of that name.
   */
  candidates(files: InventoryFile[]): Promise<Candidate[][]>;
  /** A short text kept under a key, such as the project rule that was guessed; `null` when there is none. */
  recall(key: string): Promise<string | null>;
  remember(key: string, value: string): Promise<void>;
}

/** The ledger: cannot be rebuilt. Committed durably before a call resolves. */
export interface LedgerPort {
  /** `lost`: an earlier ledger was damaged or missing; nothing may be said of copies until shelves are read again. */
  condition(): Promise<'sound' | 'lost'>;
  advisories(): Promise<readonly StoredAdvisory[]>;
  /** Replaces all that were kept. `messages`: what channels are to be told of it, kept with them or not at all. */
  putAdvisories(advisories: readonly StoredAdvisory[], messages?: readonly NewMessage[]): Promise<void>;
  /** What was removed from a volume in the hours that begin at `since` or later, in order of time. */
  removals(volume: string, since: Instant): Promise<Removal[]>;
  /** All measurements of speed, oldest first. */
  speedSamples(): Promise<readonly KeptSample[]>;
  putSpeedSample(kept: KeptSample): Promise<void>;
  /** What came to a volume and went, from this hour on, in order of time. */
  growth(volume: string, sinceHour: number): Promise<KeptGrowth>;
  /** Each hour replaces the one that is kept; both durably, or neither. */
  putGrowth(volume: string, mark: GrowthMark, hours: readonly BookedHour[]): Promise<void>;
  /** How a volume stood, from this instant on, in order of time: minute by minute, or hour by hour. */
  moments(volume: string, grain: Grain, since: Instant): Promise<VolumeMoment[]>;
  /** One that is put again replaces the other. Minutes that begin before `forget` (`null`: none) go. */
  putMoments(volume: string, grain: Grain, moments: readonly VolumeMoment[], forget: Instant | null): Promise<void>;
  /** The shoot plans that were kept by command, in the order in which they were kept. */
  plans(): Promise<readonly KeptPlan[]>;
  putPlan(kept: KeptPlan): Promise<void>;
  /** Of a project; how many there were. */
  dropPlans(project: string): Promise<number>;
  /** All inventories that were not dropped, newest first. */
  inventories(): Promise<Inventory[]>;
  /** Keeps an inventory; one with the same id is replaced. */
  putInventory(inventory: Inventory): Promise<void>;
  /** The person wants to hear no more of it. False: there is none with this id. */
  dropInventory(id: string): Promise<boolean>;
}

/** How long a stretch a kept moment stands for. */
export type Grain = 'minute' | 'hour';

/** Up to when growth is booked (`null`: it was never begun), and the hours. */
export interface KeptGrowth {
  mark: GrowthMark | null;
  hours: BookedHour[];
}

/** A measurement, and how the volume was put together then, in one word. */
export interface KeptSample {
  build: string;
  sample: SpeedSample;
}

/** What was removed within one hour, of one project or outside of all. A content goes with its last name. */
export interface Removal {
  /** When the hour began. */
  hour: Instant;
  area: Area;
  project: string | null;
  files: number;
  bytes: number;
  /** Of these bytes, of footage. */
  footageBytes: number;
}

/** Hysteresis and announcement state of one advisory subject, kept over restarts. */
export interface StoredAdvisory {
  id: string;
  json: string;
}
