import type { Ratio, Scan } from '../../model.ts';
import { exact } from '../frame-rate.ts';
import {
  allReferredBy,
  bytesOf,
  labelOf,
  lengthOf,
  type Metadata,
  type MetadataSet,
  numberOf,
  ratioOf,
} from './mxf-metadata.ts';
import type { FilePackage, PackageTrack } from './mxf-packages.ts';
import { property, setClass } from './mxf-registry.ts';

/** Lines that D-10 stores for those it shows (SMPTE ST 356): the rest is blanking. */
const D10_LINES: Readonly<Record<number, number>> = { 608: 576, 512: 486 };

/** Essence container label of D-10 (SMPTE ST 386), bytes 8 to 13. */
const D10_CONTAINER = '0d0103010201';

/**
 * Pixels that DV100 stores in a line, by its coding label (SMPTE ST 370, ST 383): writers give the line of the signal, 1920 or
 * 1280, whose samples it was made from.
 */
const DV100_PIXELS: Readonly<Record<string, number>> = {
  '0401020202020500': 1280,
  '0401020202020600': 1440,
  '0401020202020700': 960,
  '0401020202020800': 960,
};

/** Frame layouts of ST 377-1 annex G.2.7: what a stored picture is of a frame. */
const layout = { fullFrame: 0, separateFields: 1, oneField: 2, mixedFields: 3, segmentedFrame: 4 } as const;

/** No picture has more pixels or lines. */
const MAX_SIDE = 100_000;

/** No picture comes in more frames a second than this in pairs of fields: above it the edit units are fields. */
const MAX_INTERLACED_RATE = 31;

/** One track of stored essence: what describes it, and the track of the package it belongs to. */
export interface EssenceTrack {
  kind: 'picture' | 'sound' | 'other';
  descriptor: MetadataSet;
  track: PackageTrack | null;
  file: FilePackage;
}

/** The essence of a package, in the order of its tracks. */
export function essenceTracks(metadata: Metadata, file: FilePackage): EssenceTrack[] {
  const { descriptor, tracks } = file;
  const descriptors =
    descriptor.kind === setClass.multipleDescriptor
      ? allReferredBy(metadata, descriptor, property.subDescriptors)
      : [descriptor];
  const essence = descriptors.map((one) => ({ descriptor: one, kind: kindOf(one), file, track: trackOf(one, tracks) }));
  // A package of one track need not say which (ST 377-1 annex F.1): it is the one that is no timecode.
  const only = tracks.filter((track) => track.timecode === null);
  const [single] = essence;
  if (essence.length === 1 && single?.track === null) single.track = only.find(hasElements) ?? only[0] ?? null;
  const place = ({ track }: EssenceTrack) => (track === null ? tracks.length : tracks.indexOf(track));
  return essence.sort((one, other) => place(one) - place(other));
}

function hasElements(track: PackageTrack): boolean {
  return track.number !== 0;
}

function trackOf(descriptor: MetadataSet, tracks: readonly PackageTrack[]): PackageTrack | null {
  const id = numberOf(descriptor, property.linkedTrack);
  return id === null ? null : (tracks.find((track) => track.id === id) ?? null);
}

/** By what a descriptor tells, since each codec has a class of its own. */
function kindOf(descriptor: MetadataSet): EssenceTrack['kind'] {
  const tells = (...tags: number[]) => tags.some((tag) => bytesOf(descriptor, tag) !== null);
  if (tells(property.storedWidth, property.pictureCoding)) return 'picture';
  return tells(property.audioSamplingRate, property.channelCount) ? 'sound' : 'other';
}

export interface Raster {
  width: number | null;
  height: number | null;
  pixelAspect: Ratio | null;
}

/**
 * What is shown of the picture: the display rectangle, else the sampled, else the stored one (ST 377-1 annex G.2). Where
 * fields are stored apart the heights are those of a field.
 */
export function rasterOf(descriptor: MetadataSet): Raster {
  const size = (...tags: number[]) =>
    tags.map((tag) => numberOf(descriptor, tag)).find((told) => told !== null && told > 0 && told <= MAX_SIDE) ?? null;
  const coding = labelOf(descriptor, property.pictureCoding)?.slice(16) ?? '';
  const width = DV100_PIXELS[coding] ?? size(property.displayWidth, property.sampledWidth, property.storedWidth);
  const stored = size(property.displayHeight, property.sampledHeight, property.storedHeight);
  const apart = storesFieldsApart(descriptor);
  const lines = stored === null || apart === null ? null : apart ? stored * 2 : stored;
  const height = lines !== null && isD10(descriptor) ? (D10_LINES[lines] ?? lines) : lines;
  return { width, height, pixelAspect: pixelAspect(ratioOf(descriptor, property.aspectRatio), width, height) };
}

export function isD10(descriptor: MetadataSet): boolean {
  return labelOf(descriptor, property.essenceContainer)?.startsWith(D10_CONTAINER, 16) === true;
}

/** Whether heights count the lines of a field; `null` where half of the lines are missing and what is shown is not told. */
function storesFieldsApart(descriptor: MetadataSet): boolean | null {
  const told = numberOf(descriptor, property.frameLayout);
  if (told === layout.oneField) return null;
  return told === layout.separateFields || told === layout.segmentedFrame;
}

/** The aspect ratio told is that of the whole picture shown. */
function pixelAspect(aspect: Ratio | null, width: number | null, height: number | null): Ratio | null {
  if (aspect === null || width === null || height === null) return null;
  const whole = reduced(aspect);
  const one = { num: whole.num * height, den: whole.den * width };
  return Number.isSafeInteger(one.num) && Number.isSafeInteger(one.den) ? reduced(one) : null;
}

function reduced({ num, den }: Ratio): Ratio {
  let [a, b] = [num, den];
  while (b > 0) [a, b] = [b, a % b];
  return { num: num / a, den: den / a };
}

/** Interlaced where the two fields of a frame are of different moments; frames in segments are not (SMPTE RP 211). */
export function scanOf(descriptor: MetadataSet): Scan | null {
  switch (numberOf(descriptor, property.frameLayout)) {
    case layout.fullFrame:
    case layout.segmentedFrame:
      return 'progressive';
    case layout.separateFields:
    case layout.mixedFields:
      return 'interlaced';
    default:
      return null;
  }
}

/** `4:2:2` from how many samples share one of chroma, across and down; `null` where either is not told, and for RGB. */
export function chromaOf(descriptor: MetadataSet): string | null {
  const across = numberOf(descriptor, property.horizontalSubsampling);
  switch (`${across}x${numberOf(descriptor, property.verticalSubsampling)}`) {
    case '1x1':
      return '4:4:4';
    case '2x1':
      return '4:2:2';
    case '2x2':
      return '4:2:0';
    case '4x1':
      return '4:1:1';
    case '1x2':
      return '4:4:0';
    default:
      return null;
  }
}

/** Bits of a component: told of colour difference pictures, and in the pixel layout of RGB where all are of one depth. */
export function depthOf(descriptor: MetadataSet): number | null {
  const told = numberOf(descriptor, property.componentDepth);
  if (told !== null) return told > 0 && told <= 32 ? told : null;
  // Pairs of a component's letter and its bits, closed by zeros (ST 377-1 annex G.2.40).
  const pairs = bytesOf(descriptor, property.pixelLayout) ?? new Uint8Array(0);
  const depths = new Set<number>();
  for (let at = 0; at + 1 < pairs.length && pairs[at] !== 0; at += 2) depths.add(pairs[at + 1] ?? 0);
  const [depth] = depths;
  return depths.size === 1 && depth !== undefined && depth > 0 && depth <= 32 ? depth : null;
}

export interface EditUnits {
  /** Edit units a second; `null`: not told. */
  rate: Ratio | null;
  /** As the header tells; `null`: it does not. */
  count: number | null;
  /** 2 where an edit unit is a field, else 1. */
  perFrame: 1 | 2;
}

/** How the essence is counted. Where fields are stored apart at a rate that no frames have, each edit unit is a field. */
export function editUnits({ descriptor, track }: EssenceTrack): EditUnits {
  const sampleRate = ratioOf(descriptor, property.sampleRate);
  const told = track?.editRate ?? sampleRate;
  const rate = told === null ? null : exact(told);
  const sameUnits = told !== null && sampleRate !== null && told.num * sampleRate.den === sampleRate.num * told.den;
  const contained = sameUnits ? lengthOf(descriptor, property.containerDuration) : null;
  const apart = numberOf(descriptor, property.frameLayout) === layout.separateFields;
  const fields = apart && rate !== null && rate.num / rate.den > MAX_INTERLACED_RATE;
  // An open header may tell 0 for what it does not know yet.
  return { rate, count: track?.duration || contained || null, perFrame: fields ? 2 : 1 };
}

/** Coding label, or where there is none that of the essence container, as hex. */
export function codecIdOf({ kind, descriptor }: EssenceTrack): string | null {
  const coding = kind === 'picture' ? property.pictureCoding : kind === 'sound' ? property.soundCompression : null;
  const label = coding === null ? null : labelOf(descriptor, coding);
  return label ?? labelOf(descriptor, property.essenceContainer);
}

/** A whole number that a double holds exactly, or `null`. */
export function toWhole(value: number): number | null {
  return Number.isSafeInteger(value) ? value : null;
}
