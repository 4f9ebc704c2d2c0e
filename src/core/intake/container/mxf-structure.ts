import { exact } from '../frame-rate.ts';
import { isoDate } from '../origin.ts';
import { pictureBytes, type Store, samplesIn, soundBytes, storeOf, unitsThere } from './mxf-amounts.ts';
import { chooseMetadata, type Layout, readLayout } from './mxf-layout.ts';
import { bytesOf, type Metadata, type MetadataSet, numberOf, ratioOf } from './mxf-metadata.ts';
import { type FilePackage, type Packages, readPackages } from './mxf-packages.ts';
import { property, setClass } from './mxf-registry.ts';
import { packageTimecodes } from './mxf-timecode.ts';
import {
  chromaOf,
  codecIdOf,
  depthOf,
  type EditUnits,
  type EssenceTrack,
  editUnits,
  essenceTracks,
  rasterOf,
  scanOf,
  toWhole,
} from './mxf-tracks.ts';
import type { Read } from './reading.ts';
import { NO_TIES, type PictureTrack, type SoundTrack, type Structure, type StructureTrack } from './structure.ts';

/** More essence tracks than this are not told. */
const MAX_TRACKS = 256;

/**
 * What an MXF file (SMPTE ST 377-1) tells of itself: packages, descriptors, timecodes, and how much there is. A handful of
 * positioned reads: start, end, header metadata, the start of the essence and of its last edit unit.
 *
 * Never throws, save what `read` throws. What is damaged or contradicts itself stands in `troubles`, and is `null`.
 */
export function mxfStructure(read: Read, size: number): Structure {
  const troubles = new Set<string>();
  const layout = readLayout(read, size);
  if (layout === null) return { ...NOTHING, troubles: ['the header partition is cut off'] };
  const metadata = chooseMetadata(read, layout, troubles);
  const container = containerOf(layout, metadata);
  if (metadata === null) return { ...NOTHING, container, troubles: [...troubles] };
  const packages = readPackages(metadata);
  const essence = packages.files.flatMap((file) => essenceTracks(metadata, file)).slice(0, MAX_TRACKS);
  const tells = metadata.sets.some(({ kind }) => kind === setClass.sourcePackage);
  if (tells && packages.files.length === 0) troubles.add('no package of the metadata has its essence in this file');
  const tracks = tracksOf(read, size, layout, essence, troubles);
  const picture = tracks.find((track) => track.type === 'picture');
  return {
    ...NOTHING,
    container,
    tracks,
    timecodes: packageTimecodes(packages, picture?.frameRate ?? null),
    reel: reelOf(packages),
    createdAt: createdAt(packages),
    ties: { ...NO_TIES, materialPackage: takeOf(packages) },
    troubles: [...troubles],
  };
}

const NOTHING: Structure = {
  container: 'MXF',
  tracks: [],
  timecodes: [],
  reel: null,
  // MXF identifies the program that wrote it, which in a copy or an export is no camera.
  camera: null,
  createdAt: null,
  ties: NO_TIES,
  troubles: [],
};

/** Operational pattern (ST 377-1 clause 7.4 and annex D): item complexity 1 to 3, package complexity a to c; 10h is OP-Atom (ST 390). */
function containerOf({ header }: Layout, metadata: Metadata | null): string {
  const preface = metadata?.sets.find(({ kind }) => kind === setClass.preface);
  const told = preface === undefined ? null : bytesOf(preface, property.operationalPattern);
  const label = told ?? header.pattern;
  const [items = 0, packages = 0] = label.subarray(12, 14);
  if (items === 0x10) return 'MXF OP-Atom';
  if (items < 1 || items > 3 || packages < 1 || packages > 3) return 'MXF';
  return `MXF OP${items}${String.fromCharCode(0x60 + packages)}`;
}

function tracksOf(
  read: Read,
  size: number,
  layout: Layout,
  essence: readonly EssenceTrack[],
  troubles: Set<string>,
): StructureTrack[] {
  const stores = new Map<FilePackage, Store>();
  return essence.map((track) => {
    const store = stores.get(track.file) ?? storeOf(read, size, layout, track, troubles);
    stores.set(track.file, store);
    return trackFrom(store, track);
  });
}

function trackFrom(store: Store, track: EssenceTrack): StructureTrack {
  switch (track.kind) {
    case 'picture':
      return pictureTrack(store, track);
    case 'sound':
      return soundTrack(store, track);
    case 'other':
      return { type: 'other', codecId: codecIdOf(track) };
  }
}

function pictureTrack(store: Store, track: EssenceTrack): PictureTrack {
  const { descriptor } = track;
  const units = editUnits(track);
  const there = unitsThere(store, track, units);
  const frameRate = units.rate === null ? null : exact({ num: units.rate.num, den: units.rate.den * units.perFrame });
  return {
    type: 'picture',
    codecId: codecIdOf(track),
    ...rasterOf(descriptor),
    rotation: null,
    frameRate,
    variableRate: units.rate === null ? null : false,
    frames: there === null ? null : toWhole(there / units.perFrame),
    durationSeconds: secondsOf(there, units),
    bytes: pictureBytes(store, track, units, there),
    scan: scanOf(descriptor),
    bitDepth: depthOf(descriptor),
    chroma: chromaOf(descriptor),
  };
}

function soundTrack(store: Store, track: EssenceTrack): SoundTrack {
  const { descriptor } = track;
  const units = editUnits(track);
  const there = unitsThere(store, track, units);
  const sampleRate = wholeRate(descriptor);
  const samples = samplesIn(there, units, sampleRate);
  return {
    type: 'sound',
    codecId: codecIdOf(track),
    channels: numberOf(descriptor, property.channelCount),
    sampleRate,
    bitDepth: numberOf(descriptor, property.quantizationBits),
    samples,
    durationSeconds: secondsOf(there, units),
    bytes: soundBytes(store, track, there, samples),
  };
}

function secondsOf(there: number | null, { rate }: EditUnits): number | null {
  return there === null || rate === null ? null : (there * rate.den) / rate.num;
}

function wholeRate(descriptor: MetadataSet): number | null {
  const rate = ratioOf(descriptor, property.audioSamplingRate);
  return rate === null ? null : toWhole(rate.num / rate.den);
}

/** Name of the tape, else of what else it was made from, else of the material. One that only says "package" is none. */
function reelOf({ material, origins }: Packages): string | null {
  const named = [
    ...origins.filter(({ isTape }) => isTape).map((origin) => origin.package.name),
    ...origins.filter(({ isTape }) => !isTape).map((origin) => origin.package.name),
    material?.name ?? null,
  ];
  return named.find((name) => name !== null && !/\bpackage\b/i.test(name)) ?? null;
}

/** When the material package was made, else the stored one: year (2 bytes), month, day, hour, minute, second, 1/250 s. No zone. */
function createdAt({ material, files }: Packages): string | null {
  for (const made of [material, files[0]]) {
    const [high = 0, low = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0, part = 0] =
      made === null || made === undefined ? [] : (bytesOf(made.set, property.packageCreated) ?? []);
    if (hour > 23 || minute > 59 || second > 59) continue;
    const two = (value: number) => String(value).padStart(2, '0');
    const date = `${String(high * 256 + low).padStart(4, '0')}-${two(month)}-${two(day)}`;
    const told = isoDate(
      `${date}T${two(hour)}:${two(minute)}:${two(second)}.${String((part % 250) * 4).padStart(3, '0')}`,
    );
    if (told !== null) return told;
  }
  return null;
}

/** The identifier (SMPTE ST 330) tells takes apart by its material number, its last 16 bytes: one that was never given tells none. */
function takeOf({ material }: Packages): string | null {
  const id = material?.id ?? null;
  return id === null || /^0*$/.test(id.slice(32, 62)) ? null : id;
}
