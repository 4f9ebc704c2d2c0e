import type { Ratio, Scan } from '../../model.ts';
import type { Finding } from './finding.ts';

/*
 * What a container's own structure tells of a file, read in a few positioned reads without touching essence. Unknown is
 * `null`: nothing is taken from a label, a default or a neighbour. What needs a codec library is not here.
 */

export interface PictureTrack {
  type: 'picture';
  /** Four-character code (QuickTime, MP4, AVI) or the essence label's 16 bytes as hex (MXF); `null`: not told. */
  codecId: string | null;
  /** Pixels to be shown (clean aperture is not applied), lines of a whole frame. */
  width: number | null;
  height: number | null;
  /** Width to height of one sample; `null`: not told. */
  pixelAspect: Ratio | null;
  /** Degrees clockwise that the picture is to be turned for showing. */
  rotation: 0 | 90 | 180 | 270 | null;
  /** Exact. Of a variable rate: the rate of most frames. Reduced. */
  frameRate: Ratio | null;
  variableRate: boolean | null;
  frames: number | null;
  /** Seconds of picture as stored; an edit list shortens what is shown, not this. */
  durationSeconds: number | null;
  /** Bytes of this track's essence, exact. */
  bytes: number | null;
  scan: Scan | null;
  /** Bits per sample, only where the container states it of this very codec (uncompressed, MXF component depth). */
  bitDepth: number | null;
  /** Chroma subsampling where the descriptor states it: `4:2:2`. */
  chroma: string | null;
}

export interface SoundTrack {
  type: 'sound';
  codecId: string | null;
  channels: number | null;
  sampleRate: number | null;
  bitDepth: number | null;
  /** Sample frames (one sample of every channel). */
  samples: number | null;
  durationSeconds: number | null;
  bytes: number | null;
}

/** Timecode, metadata, captions and other tracks that are neither picture nor sound. */
export interface OtherTrack {
  type: 'other';
  codecId: string | null;
}

export type StructureTrack = PictureTrack | SoundTrack | OtherTrack;

/** Where a start timecode stands in the file. */
export type TimecodePlace =
  | 'timecode-track' // QuickTime, MP4: a tmcd track
  | 'material-package' // MXF: what is played
  | 'file-package' // MXF: what is stored
  | 'physical-package' // MXF: the tape, or what stands for it
  | 'sound-header' // Broadcast Wave: time reference, samples after midnight
  | 'frame-header'; // DPX: the frame's own

export interface StartTimecode {
  place: TimecodePlace;
  /** Frames after 00:00:00:00 in counting frames of `rate`. */
  frame: number;
  /** Frames a second, exact: 30000/1001 for 29.97. */
  rate: Ratio;
  drop: boolean;
  /** What was wrong with how the file tells it, and was put right; `null` mostly. */
  note: string | null;
}

export interface Structure {
  /** `QuickTime`, `MP4`, `MXF OP1a`, `MXF OP-Atom`, `WAV`, `BWF`, `AVI`, ... as `containerName` of core/intake/format-name.ts tells them. */
  container: string;
  /** In the order of the file. */
  tracks: StructureTrack[];
  /** All that the file carries; the one to believe first. */
  timecodes: StartTimecode[];
  reel: string | null;
  /** The camera's own words, never those of what wrote the container. */
  camera: string | null;
  /** ISO 8601, with `Z` where the container tells UTC; never the epochs 1904 and 1970 or year 0. */
  createdAt: string | null;
  /** What joins this file with others of its take. */
  ties: Ties;
  /** What was damaged, beyond limits, or contradicts itself, in words. */
  troubles: string[];
}

/** What a file carries to find the others of its take. */
export interface Ties {
  /** MXF: the material package's UMID as hex; the files of one OP-Atom take share it. */
  materialPackage: string | null;
  /** Sound: scene and take of the recorder's notes (iXML), and the family of files recorded at once. */
  scene: string | null;
  take: string | null;
  family: string | null;
  /** Sound: samples after midnight at which it begins, with the sample rate in the track. */
  timeReference: number | null;
}

export const NO_TIES: Ties = { materialPackage: null, scene: null, take: null, family: null, timeReference: null };

/** What the readers find in one file. `structure` is `null` where this container is not read here. */
export interface HeaderLook {
  finding: Finding;
  structure: Structure | null;
}
