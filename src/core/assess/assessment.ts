import type { BackupView } from '../backup/backup-view.ts';
import type { ProjectCopies } from '../backup/project-copies.ts';
import type { CardListCheck } from '../cards/card-list-check.ts';
import type { CopyTally } from '../cards/copy-tally.ts';
import type { InventoryListHead } from '../cards/inventory-list.ts';
import type { KeptCard, OnCards } from '../cards/kept-card.ts';
import type { ListCheck } from '../cards/list-check.ts';
import type { Progress, Reconciliation } from '../cards/reconciliation.ts';
import type { UnseenDelivery } from '../cards/unseen.ts';
import type { StateRoom } from '../machine-port.ts';
import type { Arrival, Clip, Instant, PathText, Ratio, Space } from '../model.ts';
import type { RootState, WatchLimit } from '../root-port.ts';
import type { ProjectSum } from '../store-ports.ts';
import type { ArrayLevel } from './array-level.ts';
import type { CapacityForecast, FootageLeft } from './capacity-forecast.ts';
import type { ClockJump } from './clock-watch.ts';
import type { DetectedLayout, KnownLayout } from './detected-layout.ts';
import type { DriveSign } from './drive-signs.ts';
import type { SpeedLayout } from './expected-speed.ts';
import type { ProjectEdit } from './group-use.ts';
import type { MadeAssessment } from './made.ts';
import type { MeasuredSpeed } from './measured-speed.ts';
import type { PlanAnswer } from './plan-answer.ts';
import type { NeedParts } from './playback-need.ts';
import type { ProjectSigns, TwiceTake } from './project-signs.ts';
import type { Removed } from './removed.ts';
import type { SpeedBasis } from './speed-belief.ts';
import type { AmbientLoad } from './speed-budget.ts';
import type { VolumeGives } from './volume-speed.ts';
import type { WorkingSession } from './working-session.ts';

/** What all rules and the snapshot are made from: one pass over what is known, at one instant. */
export interface Assessment {
  at: Instant;
  /** IANA name or offset of the zone in which days are told. */
  zone: string;
  volumes: VolumeAssessment[];
  projects: ProjectAssessment[];
  arrivals: Arrival[];
  /** Every inventory that is kept, beside what arrived of it. */
  cards: CardAssessment[];
  /** Copied cards that were never seen as cards, and have no manifest. */
  unseen: UnseenDelivery[];
  /** By volume, what of its exposed footage lies on cards that a person said are kept; `null`: not looked up yet. */
  onCards: ReadonlyMap<string, OnCards> | null;
  /** Shoots that are to come, each on the volume where it will lie. */
  plans: PlanAnswer[];
  backups: BackupView;
  machine: MachineAssessment;
  /** Why headroomd's own state cannot be written, and since when; `null`: it can. */
  stateTrouble: { message: string; since: Instant } | null;
}

/** What is to be told of the machine itself; `null`: nothing, or it is not known. */
export interface MachineAssessment {
  clockJump: ClockJump | null;
  /** Of the drive that headroomd's own state lies on. */
  stateRoom: StateRoom | null;
}

export const NOTHING_OF_MACHINE: MachineAssessment = { clockJump: null, stateRoom: null };

/** One card or manifest, beside what arrived of it. */
export interface CardAssessment {
  /** Is the card there now? A manifest has no card. */
  state: 'mounted' | 'gone' | 'manifest';
  /** Since when the card is not there any more; `null`: it is there, it is a manifest, or it was gone before this start. */
  goneSince: Instant | null;
  reconciliation: Reconciliation;
  progress: Progress;
  /** Nothing more of it has arrived for as long as a broken-off copy takes to be told. */
  stalled: boolean;
  /** All its footage was here at some time: what is taken away later is no news of the card. */
  wasComplete: boolean;
  /** Volumes with files of it that are not live: what is told of these files is as last seen. */
  notLive: readonly VolumeNotLive[];
  /** Verified copies of those of its files that have arrived; `null`: not looked up yet. */
  copies: CopyTally | null;
  /** Of a list: what arrived beside what it says of contents; `null`: it is a card, or was not looked at yet. */
  check: ListCheck | null;
  /** Lists that lie on the card itself, in the order of their places. */
  lists: readonly ListOnCardAssessment[];
  /** That a person said the card is kept as it is; `null`: nobody did. */
  kept: KeptCard | null;
}

/** A list that lies on a card, and what arrived beside what it says of contents. */
export interface ListOnCardAssessment extends Pick<InventoryListHead, 'place' | 'state' | 'detail' | 'gap' | 'listed'> {
  /** `null`: not looked at yet, or nothing is known of what it says. */
  check: CardListCheck | null;
}

/** A volume that cannot be looked at now, or was not looked through yet. */
export interface VolumeNotLive {
  volume: string;
  state: 'away' | 'starting';
}

export interface VolumeAssessment {
  name: string;
  path: string;
  state: RootState;
  stateDetail: string | null;
  /** Why folders of it are not watched; `null`: all are. */
  watchLimit: WatchLimit | null;
  /** True while figures are older than they should be (root not live). */
  stale: boolean;
  fileSystem: string | null;
  mountOptions: readonly string[];
  /** Other volumes on the same file system, by name: their room is the same room. */
  sharesRoomWith: readonly string[];
  declaredLayout: { level: ArrayLevel; members: number; drive: SpeedLayout['drive']; link: string | null } | null;
  /** What the system shows of it. */
  detected: DetectedLayout | null;
  /** What of the two counts. */
  layout: KnownLayout | null;
  /** Failing signs of its drives. */
  signs: DriveSign[];
  capacity: CapacityAssessment | null;
  /** It takes no writes. `turnedAt`: when it was found so, after it had taken them; `null`: it did not since the start. */
  readOnly: { turnedAt: Instant | null } | null;
  /** When the room will be used up; `null`: the volume was not read or its room not asked for yet. */
  forecast: CapacityForecast | null;
  /** How long the cameras that are there can record; `null`: not known. */
  footageLeft: FootageLeft | null;
  /** How long is recorded in a working session; `null`: no shoot goes on there. */
  session: WorkingSession | null;
  speed: SpeedAssessment;
  /** The last measurement that was of its drives, with nothing else going on, beside what its layout lets expect; `null`: there is none. */
  measured: MeasuredSpeed | null;
  /** What goes on there; `null`: nothing is told of its drives, or its speed is not known. */
  load: LoadAssessment | null;
  safety: SafetyAssessment | null;
  /** What counts as enough copies of what lies there. */
  wanted: WantedAssessment;
  /** In the last 24 hours, to the hour; `null`: the ledger cannot tell. */
  removed: Removed | null;
  /** Bytes of the volume by area, for footprint outside projects. */
  areas: ProjectSum[];
}

export interface CapacityAssessment {
  space: Space;
  /** Kept free; taken off once, here. */
  reserveBytes: number;
  /** What can still be written before the reserve is touched; negative when it is already. */
  roomBytes: number;
}

/** Bytes per second. The reserve is already taken off the budget. `null`: not known. */
export interface SpeedAssessment {
  /** For as many streams as the demand has. */
  readBudgetBps: number | null;
  writeBudgetBps: number | null;
  basis: SpeedBasis | null;
  /** Four in five such volumes may be asked for something between. */
  range: { readLowBps: number; readHighBps: number; writeLowBps: number; writeHighBps: number } | null;
  /** Nothing taken off. */
  gives: VolumeGives | null;
  /** Share of the volume's speed that is kept free, 0..1: already taken off. */
  reserveShare: number;
  /** What else uses the volume now; `null`: nobody can tell. */
  ambient: AmbientLoad | null;
  /** What is wanted at the peak: the heaviest multicam group, else the newest clip's stream, with what goes on beside. */
  demandBps: number | null;
  /** What it is made of. */
  demandParts: NeedParts | null;
  /** What the demand comes from, in words. */
  demandFrom: string | null;
  /** Streams in it. */
  streams: number | null;
  headroom: number | null;
  /** Further streams of the heaviest angle that still fit. */
  anglesLeft: number | null;
}

/** Bytes per second, but for the share. */
export interface LoadAssessment {
  /** Smoothed, of what the volume gives; above 1 it gives more than is known. */
  share: number;
  /** It has been too much for minutes. */
  isHigh: boolean;
  /** At the last look. */
  readBps: number;
  writeBps: number;
  /** Of what was read, by headroomd itself. */
  ownReadBps: number;
}

export interface WantedAssessment {
  /** Verified copies on different drives. */
  copies: number;
  /** Each copy is read again within so many days. */
  readWithinDays: number;
}

export interface SafetyAssessment {
  exposedBytes: number;
  exposedClips: number;
  exposedSeconds: number;
  exposedSince: Instant | null;
}

export interface ProjectAssessment {
  /** How it is edited, as far as anything tells. */
  edit: ProjectEdit;
  /** Exposure holds what was made and cannot be made again. All 0 of a project of which nothing is left but copies. */
  sum: ProjectSum;
  /** `null`: not known. */
  copies: ProjectCopies | null;
  multicam: MulticamGroup[];
  made: MadeAssessment;
  /** `null`: not looked for yet. */
  twice: ProjectSigns['twice'] | null;
  /** Bytes of its footage by the hour, since 1970, in which they came; as far as the files tell. */
  hours: readonly { hour: number; bytes: number }[];
  /** Takes of which parts or frames are known to be missing. */
  lacking: readonly LackingTake[];
  /** Clips of picture and sound that no reader could read, newest first. */
  undecoded: readonly UndecodedClip[];
  /** Takes that lie there twice and are not the same, the first of them. */
  differing: readonly DifferingTake[];
}

/** A take that lies in a project twice, where the two are not the same: of other size, or of other content. */
export interface DifferingTake extends Pick<TwiceTake, 'name' | 'places'> {
  by: 'size' | 'content';
}

export type UndecodedClip = Pick<Clip, 'name' | 'bytes' | 'troubles' | 'readyAt'>;

export type LackingTake = Pick<Clip, 'name' | 'missingFrames' | 'missingParts' | 'missingNames'>;

/** Clips of one project that run at the same time on different cameras. */
export interface MulticamGroup {
  /** Wall clock where known, else `null`; the timecodes are in `evidence`. */
  startsAt: Instant | null;
  endsAt: Instant | null;
  angles: number;
  cameras: string[];
  /** Mean rates together, bytes per second. */
  demandBps: number;
  /** With the spread of variable rates, bytes per second. */
  peakBps: number;
  /** Mean rate of its heaviest stream. */
  largestBps: number;
  /** What plays at the heaviest moment: of each camera its clip, and the proxy of that. */
  members: {
    camera: string;
    unit: string;
    path: PathText;
    bps: number;
    proxy: { path: PathText; bps: number } | null;
  }[];
  /** When the newest of its clips was ready. */
  readyAt: Instant;
  /** 0..1; below 0.6 the angles are guessed. */
  confidence: number;
  /** On what it rests: "same timecode on reels A001 B001 at 25 fps". */
  evidence: string;
  frameRates: Ratio[];
  /** The rates of each camera, where they are not one for all. */
  cameraRates: { camera: string; frameRate: Ratio }[];
}
