import type { Ratio } from '../../model.ts';
import { constantElement, type Room, roomOf, wholeElement } from './mxf-essence.ts';
import { type IndexFacts, readIndex } from './mxf-index.ts';
import type { Layout } from './mxf-layout.ts';
import { labelOf, numberOf } from './mxf-metadata.ts';
import { property } from './mxf-registry.ts';
import { type EditUnits, type EssenceTrack, isD10, toWhole } from './mxf-tracks.ts';
import { count, type Read } from './reading.ts';

/** What is needed to find out how much there is of the essence of one package. */
export interface Store {
  read: Read;
  size: number;
  layout: Layout;
  room: Room | null;
  index: IndexFacts | null;
  troubles: Set<string>;
}

/** Essence container and sound coding labels, bytes 8 on: AES3 or Broadcast Wave (ST 382), uncompressed (ST 400). */
const PCM_CONTAINER = '0d01030102060';
const UNCOMPRESSED = '04020201';

/** D-10 sound (SMPTE ST 331): in each frame 4 bytes and then 4 for every sample of eight channels. */
const D10_SOUND = { head: 4, sample: 32 };

export function storeOf(read: Read, size: number, layout: Layout, track: EssenceTrack, troubles: Set<string>): Store {
  const { bodyId } = track.file;
  const id = bodyId ?? layout.header.bodyId;
  return {
    ...{ read, size, layout, troubles },
    room: id === 0 ? null : roomOf(read, layout, id),
    index: readIndex(read, layout, bodyId, track.track?.duration == null),
  };
}

/**
 * Edit units that are there: those that the header tells, unless index or room say otherwise; without a header's word those of
 * the index. `null` where they contradict each other, or the end of the file is missing.
 */
export function unitsThere(store: Store, track: EssenceTrack, { count: told, rate }: EditUnits): number | null {
  const { troubles } = store;
  const index = indexIn(store, rate);
  const room = unitsInRoom(store, track, index);
  if (told === null) return index?.units ?? room?.exactly ?? null;
  const most = told + (track.track?.origin ?? 0);
  if (index?.units != null && (index.units < told || index.units > most)) {
    troubles.add(`the header tells ${count(told)} edit units, the index ${count(index.units)}`);
    return null;
  }
  if (room !== null && (room.atMost < told || (room.exactly ?? 0) > most)) {
    troubles.add(`the header tells ${count(told)} edit units, and there is room for ${count(room.atMost)}`);
    return null;
  }
  if (room === null && isBrokenOff(store.layout)) {
    troubles.add(`the header tells ${count(told)} edit units, but the end of the file is missing`);
    return null;
  }
  return told;
}

/** The index, where it counts in the edit units of the track: sound may be counted in samples beside a picture in frames. */
function indexIn({ index }: Store, rate: Ratio | null): IndexFacts | null {
  if (index === null || index.rate === null || rate === null) return null;
  return index.rate.num * rate.den === rate.num * index.rate.den ? index : null;
}

/** How many units of constant size fit; exact where the essence ends with a whole one. */
function unitsInRoom(
  store: Store,
  track: EssenceTrack,
  index: IndexFacts | null,
): { atMost: number; exactly: number | null } | null {
  const { room, size } = store;
  const unitBytes = index?.unitBytes ?? null;
  if (unitBytes === null || room === null) return null;
  const whole = wholeOf(store, track);
  const bytes = whole ?? Math.max(0, (room.end ?? size) - room.start);
  const units = bytes / unitBytes;
  const isExact = whole !== null || (room.single === true && room.end !== null);
  return { atMost: Math.floor(units), exactly: isExact && Number.isInteger(units) ? units : null };
}

function isBrokenOff({ footer, header }: Layout): boolean {
  return footer === null && (header.footer > 0 || header.status === 1 || header.status === 3);
}

function wholeOf({ read, room }: Store, { kind, track }: EssenceTrack): number | null {
  if (room === null || kind === 'other') return null;
  return wholeElement(read, room, kind, track?.number ?? 0);
}

/**
 * Bytes of the values of a picture's essence elements, keys, lengths and fill not counted: exact or `null`. Known are a take in
 * one element, and edit units that the index says are of one size. Where they are not, the index tells where each
 * begins, but not how much of it is fill, and the whole file would have to be read.
 */
export function pictureBytes(
  store: Store,
  track: EssenceTrack,
  { rate }: EditUnits,
  units: number | null,
): number | null {
  const whole = wholeOf(store, track);
  if (whole !== null) return whole;
  const { read, layout, room } = store;
  const index = indexIn(store, rate);
  if (room === null || index === null || index.unitBytes === null || units === null) return null;
  const constant = { count: units, bytes: index.unitBytes, elements: index.elements, grid: layout.header.grid };
  const element = constantElement(read, room, constant, track.track?.number ?? 0);
  return element === null ? null : within(store, element * units);
}

/** Bytes of a sound track: of its one element, else of its samples where they are uncompressed. */
export function soundBytes(
  store: Store,
  track: EssenceTrack,
  units: number | null,
  samples: number | null,
): number | null {
  const whole = wholeOf(store, track);
  if (whole !== null) return whole;
  const { descriptor } = track;
  if (samples === null || units === null) return null;
  const perUnit = samples / units;
  // Edit units of one sample are no frames that could have a head each.
  if (isD10(descriptor)) return perUnit > 1 ? within(store, units * D10_SOUND.head + samples * D10_SOUND.sample) : null;
  const coding = labelOf(descriptor, property.soundCompression);
  const isPcm = labelOf(descriptor, property.essenceContainer)?.startsWith(PCM_CONTAINER, 16) === true;
  if (!isPcm || (coding !== null && !coding.startsWith(UNCOMPRESSED, 16))) return null;
  const align = numberOf(descriptor, property.blockAlign);
  return align === null || align === 0 ? null : within(store, samples * align);
}

function within({ size }: Store, bytes: number): number | null {
  return bytes <= size ? bytes : null;
}

/** Samples in so many edit units; `null` where that is no whole number, as in 29.97 with a part of five frames. */
export function samplesIn(units: number | null, { rate }: EditUnits, sampleRate: number | null): number | null {
  if (units === null || rate === null || sampleRate === null) return null;
  return toWhole((units * sampleRate * rate.den) / rate.num);
}
