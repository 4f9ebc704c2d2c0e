import type { Ratio } from '../../model.ts';
import {
  allReferredBy,
  labelOf,
  lengthOf,
  type Metadata,
  type MetadataSet,
  numberOf,
  packageIdOf,
  ratioOf,
  referredBy,
  textOf,
} from './mxf-metadata.ts';
import { property, setClass } from './mxf-registry.ts';

/** So many packages of stored essence are looked at; a file of one take has one, a few have one for each track. */
const MAX_FILE_PACKAGES = 16;

/** Of what a track is put together only the start is looked at. */
const MAX_COMPONENTS = 16;

/** Clip, tape, and what was between them: chains are two or three long. */
const MAX_CHAIN = 8;

export interface SourceClip {
  /** First edit unit that is taken of the other package's track. */
  start: number;
  packageId: string;
  trackId: number | null;
}

/** A timecode component (ST 377-1 annex B). */
export interface TimecodeSet {
  /** Frames after 00:00:00:00. */
  start: number;
  /** Frames that a label counts in a second. */
  base: number;
  drop: boolean;
}

export interface PackageTrack {
  id: number | null;
  /** Last four bytes of the key of its essence elements; 0: it has none in the file. */
  number: number;
  editRate: Ratio | null;
  origin: number;
  /** Edit units; `null`: not told, as in a header that was never closed. */
  duration: number | null;
  clip: SourceClip | null;
  timecode: TimecodeSet | null;
}

export interface MxfPackage {
  set: MetadataSet;
  id: string | null;
  name: string | null;
  tracks: readonly PackageTrack[];
}

/** A package of essence that lies in this file. */
export interface FilePackage extends MxfPackage {
  descriptor: MetadataSet;
  /** Id of its essence; `null`: not told. */
  bodyId: number | null;
}

export interface Packages {
  material: MxfPackage | null;
  files: readonly FilePackage[];
  /** What the first file package was made from, the nearest first, with where in it this essence begins. */
  origins: readonly Origin[];
}

export interface Origin {
  package: MxfPackage;
  isTape: boolean;
  /** How far into the package this essence begins; `null`: not told. */
  seconds: number | null;
}

/** Packages of the header metadata (ST 377-1 clause 5.3): what is played, what is stored, and what it was made from. */
export function readPackages(metadata: Metadata): Packages {
  const material = metadata.sets.find((set) => set.kind === setClass.materialPackage);
  const files = filePackages(metadata);
  return {
    material: material === undefined ? null : readPackage(metadata, material),
    files,
    origins: files[0] === undefined ? [] : originsOf(metadata, files[0]),
  };
}

/**
 * Source packages with a file descriptor (it names an essence container, which those of tapes and imports do not). Where
 * the file lists which essence it holds, the others are elsewhere.
 */
function filePackages(metadata: Metadata): FilePackage[] {
  const essence = new Map<string | null, MetadataSet>();
  for (const set of metadata.sets) {
    if (set.kind === setClass.essenceData) essence.set(packageIdOf(set, property.linkedPackage), set);
  }
  const found: FilePackage[] = [];
  for (const set of metadata.sets) {
    if (set.kind !== setClass.sourcePackage || found.length >= MAX_FILE_PACKAGES) continue;
    const descriptor = referredBy(metadata, set, property.packageDescriptor);
    if (descriptor === null || !isFileDescriptor(descriptor)) continue;
    const id = packageIdOf(set, property.packageId);
    const data = id === null ? undefined : essence.get(id);
    if (essence.size > 0 && data === undefined) continue;
    found.push({
      ...readPackage(metadata, set),
      descriptor,
      bodyId: data === undefined ? null : numberOf(data, property.bodyId),
    });
  }
  return found;
}

function isFileDescriptor(set: MetadataSet): boolean {
  return set.kind === setClass.multipleDescriptor || labelOf(set, property.essenceContainer) !== null;
}

function readPackage(metadata: Metadata, set: MetadataSet): MxfPackage {
  return {
    set,
    id: packageIdOf(set, property.packageId),
    name: textOf(set, property.packageName),
    tracks: allReferredBy(metadata, set, property.packageTracks).map((track) => readTrack(metadata, track)),
  };
}

function readTrack(metadata: Metadata, set: MetadataSet): PackageTrack {
  const segment = referredBy(metadata, set, property.trackSegment);
  const components =
    segment?.kind === setClass.sequence
      ? allReferredBy(metadata, segment, property.components, MAX_COMPONENTS)
      : [segment];
  const first = (kind: number) => components.find((one) => one?.kind === kind) ?? null;
  return {
    id: numberOf(set, property.trackId),
    number: numberOf(set, property.trackNumber) ?? 0,
    editRate: ratioOf(set, property.trackEditRate),
    origin: lengthOf(set, property.trackOrigin) ?? 0,
    duration: segment === null ? null : lengthOf(segment, property.duration),
    clip: readClip(first(setClass.sourceClip)),
    timecode: readTimecode(first(setClass.timecode)),
  };
}

function readClip(set: MetadataSet | null): SourceClip | null {
  const packageId = set === null ? null : packageIdOf(set, property.clipPackage);
  if (set === null || packageId === null) return null;
  const start = lengthOf(set, property.clipStart) ?? 0;
  return { start, packageId, trackId: numberOf(set, property.clipTrack) };
}

function readTimecode(set: MetadataSet | null): TimecodeSet | null {
  if (set === null) return null;
  const start = lengthOf(set, property.timecodeStart);
  const base = numberOf(set, property.timecodeBase);
  if (start === null || base === null || base === 0) return null;
  return { start, base, drop: numberOf(set, property.timecodeDrop) === 1 };
}

/**
 * Follows the source clips from the stored essence to what it was made from; a loop or a missing package ends it. A clip
 * tells where it begins in the other package, in edit units of its own track (ST 377-1 annex B).
 */
function originsOf(metadata: Metadata, file: FilePackage): Origin[] {
  const origins: Origin[] = [];
  const seen = new Set<MetadataSet>([file.set]);
  let track = file.tracks.find((one) => one.clip !== null) ?? null;
  let seconds: number | null = 0;
  while (track?.clip != null && origins.length < MAX_CHAIN) {
    const { packageId, trackId, start }: SourceClip = track.clip;
    const set = metadata.sets.find((one) => isSource(one) && packageIdOf(one, property.packageId) === packageId);
    if (set === undefined || seen.has(set)) break;
    seen.add(set);
    const found = readPackage(metadata, set);
    const descriptor = referredBy(metadata, set, property.packageDescriptor);
    seconds = later(seconds, start, track.editRate);
    origins.push({ package: found, isTape: descriptor?.kind === setClass.tape, seconds });
    track = found.tracks.find((one) => one.id === trackId) ?? null;
  }
  return origins;
}

function later(seconds: number | null, units: number, rate: Ratio | null): number | null {
  if (units === 0) return seconds;
  return seconds === null || rate === null ? null : seconds + (units * rate.den) / rate.num;
}

function isSource({ kind }: MetadataSet): boolean {
  return kind === setClass.sourcePackage;
}
