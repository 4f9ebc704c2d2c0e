import type { Ties } from './intake/container/structure.ts';
import type { Disagreement, FactSources } from './intake/fact-sources.ts';

/** What every room talks about. Bytes and seconds; rates in bytes per second unless a name says bits. */

/**
 * A path as text, without loss: valid UTF-8 as it is, every other byte as one character of the private range
 * U+F780-U+F7FF (see core/intake/path-text.ts). Relative to its root, `/` between names, no leading `/`.
 */
export type PathText = string;

/** An instant: milliseconds since 1970-01-01T00:00Z. Becomes ISO 8601 with offset only in `present`. */
export type Instant = number;

/** What one `lstat` told of a regular file. Inodes, devices and nanosecond times do not fit a number. */
export interface FileStat {
  path: PathText;
  size: number;
  /** Bytes really allocated (`blocks` x 512): less than `size` for a file that is still being filled. */
  allocated: number;
  mtimeNs: bigint;
  ctimeNs: bigint;
  dev: bigint;
  ino: bigint;
  nlink: number;
}

/** Where a path belongs. `system` is never counted, never watched. */
export type Area = 'project' | 'shared' | 'unassigned' | 'trash' | 'system';

/** What a file is for. In doubt it is an `original`. */
export type Kind =
  | 'original'
  | 'sound'
  | 'still'
  | 'graphics'
  | 'proxy'
  | 'render'
  | 'project-file'
  | 'cache'
  | 'sidecar'
  | 'other';

/** Kinds that count as footage: what was recorded and cannot be made again. */
export const FOOTAGE_KINDS: readonly Kind[] = ['original', 'sound', 'still'];

/** Kinds that were made from footage, and can be made again while that is known and there. */
export const MADE_KINDS: readonly Kind[] = ['proxy', 'render'];

export interface Placement {
  area: Area;
  /** The project's name (its path below the root); `null` outside every project. */
  project: string | null;
  kind: Kind;
  /** Why this kind: the folder name or extension that decided. */
  reason: string;
}

/** How far a file has come. `arriving` rows are taken up again after a restart. */
export type FileState = 'arriving' | 'ready' | 'refused';

/** A file as the catalogue keeps it. */
export interface FileRecord extends FileStat {
  volume: string;
  area: Area;
  project: string | null;
  kind: Kind;
  /** The unit it settles with: one file, or all frames of a sequence with their sidecars (core/intake/group.ts). */
  unit: string;
  state: FileState;
}

export type UnitStage = 'copying' | 'settling' | 'probing' | 'ready' | 'stalled' | 'refused';

/** Why an arrival is where it is; also log field and metric label. The wording is in present/wording.ts. */
export type ArrivalReason =
  | 'growing' // size or time changed lately
  | 'open-for-writing' // a process has it open for writing
  | 'not-quiet-yet'
  | 'waits-for-rename' // a temporary name of a copying program
  | 'incomplete' // its own structure says that bytes are missing
  | 'unwritten' // room was reserved, the content is still zeros
  | 'being-read' // probe under way
  | 'complete' // container whole, no writer
  | 'complete-by-quiet' // nothing but quiet could be known
  | 'empty' // zero bytes
  | 'not-media' // a media name, but the content is something else
  | 'unreadable' // permission or I/O error
  | 'probe-failed' // the reader gave up or was ended
  | 'changed-meanwhile';

/** One line of the arrivals list. */
export interface Arrival {
  volume: string;
  unit: string;
  path: PathText;
  stage: UnitStage;
  reason: ArrivalReason;
  /** What exactly, in words a person can use (a size, an errno); `null` when the reason says all. */
  detail: string | null;
  bytes: number;
  bytesPerSecond: number | null;
  since: Instant;
}

export interface Ratio {
  num: number;
  den: number;
}

export type Scan = 'progressive' | 'interlaced';

/** Known of one clip. `null` is "not known"; never an invented zero. Bit rates are bits per second, as the trade reads them. */
export interface ClipFacts {
  container: string | null;
  codec: string | null;
  profile: string | null;
  width: number | null;
  height: number | null;
  /** Exact where the container is exact. */
  frameRate: Ratio | null;
  variableRate: boolean | null;
  scan: Scan | null;
  bitDepth: number | null;
  chroma: string | null;
  durationSeconds: number | null;
  frames: number | null;
  /** Bytes of picture essence; divided by `frames` the size of a frame. */
  videoBytes: number | null;
  videoBitrate: number | null;
  overallBitrate: number | null;
  /** `HH:MM:SS:FF`, with `;` before the frames when drop-frame. */
  startTimecode: string | null;
  dropFrame: boolean | null;
  reel: string | null;
  camera: string | null;
  /** ISO 8601 as the file carries it, or `null`. */
  recordedAt: string | null;
  /** Where `recordedAt` came from. */
  recordedAtBasis: 'container' | 'sound-header' | 'file-time' | null;
  audioTracks: number | null;
  audioChannels: number | null;
}

/** `not-decoded`: no reader knows what is in it; its bytes count all the same. */
export type ClipState = 'ready' | 'not-decoded';

/** How the essence files of a clip relate: frames and spans follow each other in time, lenses and tracks run at once. */
export type PartsRelation = 'frames' | 'spans' | 'lenses' | 'tracks';

/** Why files are one clip; of one file alone that it is one. The wording is in present/wording.ts. */
export type GroupReason =
  | 'single-file'
  | 'same-stem' // one name, several extensions
  | 'numbered-frames'
  | 'chapter-number'
  | 'span-number'
  | 'lens-number'
  | 'track-number'
  | 'card-layout'
  | 'proxy-without-original'; // a camera's small picture; what it is of is not there, or not yet

/** What proves that files of several names are one take: what they carry, or what the card says of them. */
export type JoinReason =
  | 'one-material-package' // MXF: they share what is played (ST 377-1)
  | 'playlist-continuation' // AVCHD: the camera's playlist goes on from one to the next
  | 'card-relation' // the card's clip lists name each other
  | 'one-sound-family' // the recorder's notes name the files that were recorded at once
  | 'one-sound-take' // same scene, take, start and length
  | 'sound-goes-on' // one recording; each file begins on the sample after the last of the one before
  | 'gapless-split' // next number, next frame, and the file before ended where media or cameras split
  | 'frames-go-on' // folders that a recorder broke: the next begins with the next frame
  | 'sound-of-frames'; // sound of a frame sequence's name and length

/** Numbers of frames or parts, both ends included. */
export interface NumberRange {
  first: number;
  last: number;
}

/** One take, counted once. */
export interface Clip {
  volume: string;
  unit: string;
  area: Area;
  project: string | null;
  kind: Kind;
  /** What a person calls it: the file's name without folder, or `name_[0001-0024].dpx` for frames. */
  name: string;
  /** First path is the essence that was probed; sidecars last. A long sequence lists its first and last frame only. */
  paths: PathText[];
  fileCount: number;
  /** All its files together. */
  bytes: number;
  /** Essence files alone: what playback reads. */
  essenceBytes: number;
  facts: ClipFacts;
  /** Where each known fact comes from. */
  sources: FactSources;
  /** What the container and the media reader tell differently. */
  disagreements: readonly Disagreement[];
  /** What went wrong with reading it, and what in it is damaged, in words. */
  troubles: readonly string[];
  state: ClipState;
  /** Essence files; of a sequence all frames. */
  essenceCount: number;
  /** `null`: its essence is one file. */
  parts: PartsRelation | null;
  groupedBy: GroupReason | JoinReason;
  /** Missing frame numbers of a sequence. */
  missingFrames: readonly NumberRange[];
  /** Parts, from 1 in playing order, that must be there by the names of the others. */
  missingParts: readonly NumberRange[];
  /** Parts that the card's own lists name and that are not there, by the name that they have there. */
  missingNames: readonly string[];
  /** What its first file carries to find others of the same take. */
  ties: Ties;
  /** Of its first sound track, samples a second. */
  sampleRate: number | null;
  readyAt: Instant;
  /** What was known when it was taken as complete. */
  evidence: 'container-whole' | 'no-writer' | 'quiet-only';
}

/** Room on a file system. `availableBytes` is what the user can write (`bavail`), less than free on ext4. */
export interface Space {
  totalBytes: number;
  freeBytes: number;
  availableBytes: number;
  /** Of the whole file system, where the folder may use only a part of it (a project quota). */
  fileSystemBytes?: number;
  /** It is mounted so that nothing can be written to it. Left out where it can, or where nobody can tell. */
  readOnly?: true;
}

export type Severity = 'notice' | 'warning' | 'critical';
