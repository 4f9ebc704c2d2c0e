import type { ClipFacts, Ratio, Scan } from '../model.ts';
import type { RawProbe } from '../root-port.ts';
import { bitRate } from './bit-rate.ts';
import { codecName, containerName } from './format-name.ts';
import { rateOf } from './frame-rate.ts';
import { cameraOf, hasSoundHeader, recordedAt, reelOf, startTimecode } from './origin.ts';
import { pictureBytes } from './picture-bytes.ts';
import { number, positive, type RawTrack, sum, text, tracksOf } from './raw-track.ts';
import { formatTimecode } from './timecode.ts';

/** What is known of the file besides the probe's answer. */
export interface FileHint {
  sizeBytes: number;
  /** Lower or upper case, without dot. */
  extension: string;
}

/** Stills that come in a movie container: the library calls them a video of one frame. */
const STILL_EXTENSIONS = new Set(['cr3', 'heic', 'heif', 'avif', 'jxl']);

/** Lines that D-10 stores for those it shows (SMPTE ST 356): the rest is blanking. */
const D10_LINES: Readonly<Record<number, number>> = { 608: 576, 512: 486 };

/** Whether a file is a still by its name, whatever container it comes in. */
export function isStillFile({ extension }: FileHint): boolean {
  return STILL_EXTENSIONS.has(extension.toLowerCase());
}

/**
 * Facts of one file from the media reader's answer. What it does not tell, or tells in a way known to be wrong, is `null`.
 * For a frame of a sequence they are the facts of that frame: `frames` 1, `videoBytes` the file.
 */
export function readerFacts(raw: Pick<RawProbe, 'tracks'>, hint: FileHint): ClipFacts {
  const [general] = tracksOf(raw, 'General');
  const sound = tracksOf(raw, 'Audio');
  const picture = tracksOf(raw, 'Video')[0] ?? tracksOf(raw, 'Image')[0];
  const timecode = startTimecode(raw);
  const isStill = picture?.['@type'] === 'Image' || isStillFile(hint);
  return {
    container: containerName(general, hasSoundHeader(general)),
    ...codecName(picture ?? sound[0]),
    ...(picture === undefined ? soundFacts(sound[0], hint) : pictureFacts(picture, raw, hint, isStill)),
    startTimecode: timecode === null ? null : formatTimecode(timecode),
    dropFrame: timecode?.drop ?? null,
    reel: reelOf(raw),
    camera: cameraOf(raw),
    ...recordedAt(raw),
    audioTracks: sound.length,
    audioChannels: sum(sound, 'Channels'),
  };
}

type EssenceFacts = Pick<
  ClipFacts,
  | 'width'
  | 'height'
  | 'frameRate'
  | 'variableRate'
  | 'scan'
  | 'bitDepth'
  | 'chroma'
  | 'durationSeconds'
  | 'frames'
  | 'videoBytes'
  | 'videoBitrate'
  | 'overallBitrate'
>;

function pictureFacts(track: RawTrack, raw: Pick<RawProbe, 'tracks'>, hint: FileHint, isStill: boolean): EssenceFacts {
  const container = text(tracksOf(raw, 'General')[0], 'Format');
  const rates = rateOf(track, container === 'MXF' || container === 'AVI');
  const picture = {
    ...rasterOf(track),
    scan: scanOf(track),
    bitDepth: bitDepthOf(track),
    chroma: text(track, 'ChromaSubsampling'),
  };
  if (isStill) {
    // A frame rate only where the image's own header has one (DPX may); none is invented for a still.
    const ownRate = track['@type'] === 'Image' ? rates : { frameRate: null, variableRate: null };
    const none = { durationSeconds: null, videoBitrate: null, overallBitrate: null };
    return { ...picture, ...ownRate, ...none, frames: 1, videoBytes: hint.sizeBytes };
  }
  const frames = positive(track, 'FrameCount');
  const constant = rates.variableRate === true ? null : rates.frameRate;
  const durationSeconds = durationOf(frames, constant, positive(track, 'Duration'));
  const soundBytes = tracksOf(raw, 'Audio').reduce((bytes, each) => bytes + (number(each, 'StreamSize') ?? 0), 0);
  const videoBytes = pictureBytes({ track, container, frames, rate: constant, sizeBytes: hint.sizeBytes, soundBytes });
  return {
    ...picture,
    ...rates,
    durationSeconds,
    frames,
    videoBytes,
    videoBitrate: bitRate(videoBytes, durationSeconds),
    overallBitrate: bitRate(hint.sizeBytes, durationSeconds),
  };
}

function soundFacts(track: RawTrack | undefined, hint: FileHint): EssenceFacts {
  const samples = positive(track, 'SamplingCount');
  const samplesPerSecond = positive(track, 'SamplingRate');
  const exact = samples === null || samplesPerSecond === null ? null : samples / samplesPerSecond;
  const durationSeconds = exact ?? positive(track, 'Duration');
  return {
    width: null,
    height: null,
    frameRate: null,
    variableRate: null,
    scan: null,
    bitDepth: positive(track, 'BitDepth'),
    chroma: null,
    durationSeconds,
    frames: null,
    videoBytes: null,
    videoBitrate: null,
    overallBitrate: bitRate(hint.sizeBytes, durationSeconds),
  };
}

function rasterOf(track: RawTrack): Pick<ClipFacts, 'width' | 'height'> {
  const height = positive(track, 'Height');
  const stored = text(track, 'Format') === 'MPEG Video' && height !== null ? D10_LINES[height] : undefined;
  return { width: positive(track, 'Width'), height: stored ?? height };
}

/**
 * Interlaced where the picture is coded in fields, whatever the way (MBAFF and PAFF are H.264's). For DV the stream is asked:
 * its wrapping says "progressive" by habit.
 */
function scanOf(track: RawTrack): Scan | null {
  const inStream = text(track, 'Format') === 'DV' ? text(track, 'ScanType_Original') : null;
  switch (inStream ?? text(track, 'ScanType')) {
    case 'Progressive':
      return 'progressive';
    case 'Interlaced':
    case 'MBAFF':
    case 'PAFF':
    case 'Mixed':
      return 'interlaced';
    default:
      return null;
  }
}

/**
 * Bits per sample. ProRes streams do not tell; the codec does: 10 in the 422 family, 12 in 4444 and 4444 XQ (SMPTE RDD 36).
 * Nothing else is assumed.
 */
function bitDepthOf(track: RawTrack): number | null {
  if (text(track, 'Format') !== 'ProRes') return positive(track, 'BitDepth');
  const profile = text(track, 'Format_Profile') ?? '';
  if (profile.startsWith('4444')) return 12;
  return profile.startsWith('422') ? 10 : null;
}

/**
 * Seconds of picture: frames over rate where that agrees with the duration told (which is rounded to a millisecond), else
 * the duration told. Never that of the longest track, which may be sound or metadata.
 */
function durationOf(frames: number | null, rate: Ratio | null, told: number | null): number | null {
  if (frames === null || rate === null) return told;
  const counted = (frames * rate.den) / rate.num;
  return told === null || Math.abs(counted - told) < rate.den / rate.num ? counted : told;
}
