import type { ClipFacts, Ratio } from '../model.ts';
import type { RawProbe } from '../root-port.ts';
import { constantRateOf } from './frame-rate.ts';
import { extra, positive, type RawTrack, text, tracksOf } from './raw-track.ts';
import {
  countingRate,
  formatTimecode,
  fromFrameNumber,
  parseTimecode,
  type Timecode,
  toFrameNumber,
} from './timecode.ts';

/** Where and when a clip comes from: timecode, reel, camera, recording time. */

const DAY_HOURS = 24;

/**
 * Start timecode. QuickTime and MP4: the timecode track. MXF: the material package; a zero there, which is what a clip that
 * was never given one has, gives way to a source package that has one. Raw DV: the subcode. A timecode that the library
 * took from inside a picture stream (the GOP header's, mostly zero) is none. MXF `Delay` is random and never looked at.
 */
export function startTimecode(raw: Pick<RawProbe, 'tracks'>): Timecode | null {
  const [general] = tracksOf(raw, 'General');
  const tracks = tracksOf(raw, 'Other').filter((track) => text(track, 'TimeCode_FirstFrame') !== null);
  switch (text(general, 'Format')) {
    case 'MXF':
      return packageTimecode(tracks);
    case 'DV':
      return valid(text(tracksOf(raw, 'Video')[0], 'TimeCode_FirstFrame'), null);
    case 'Matroska':
      return valid(text(extra(general), 'TimeCode_FirstFrame'), null);
    default:
      return tracks.map(trackTimecode).find((timecode) => timecode !== null) ?? null;
  }
}

function packageTimecode(tracks: readonly RawTrack[]): Timecode | null {
  const of = (kind: string) =>
    tracks
      .filter((track) => text(track, 'TimeCode_Settings') === kind)
      .map((track) => valid(text(track, 'TimeCode_FirstFrame'), constantRateOf(track)))
      .filter((timecode) => timecode !== null);
  const [material] = of('Material Package');
  if (material !== undefined && !isZero(material)) return material;
  return of('Source Package').find((timecode) => !isZero(timecode)) ?? material ?? null;
}

/**
 * Some cameras write "29 frames a second" beside a rate of 29.97; the library counts with that, and is wrong by tens of
 * minutes. It shows in the label of the last frame, which then does not lie as far from the first as there are frames: the
 * counter itself is right, and the label is made again from it (the rule of ST 12-1: 30 for 29.97).
 */
function trackTimecode(track: RawTrack): Timecode | null {
  const rate = constantRateOf(track);
  const first = valid(text(track, 'TimeCode_FirstFrame'), rate);
  const last = parseTimecode(text(track, 'TimeCode_LastFrame') ?? '');
  const frames = positive(track, 'FrameCount');
  const count = rate === null ? null : countingRate(rate);
  if (first === null || last === null || frames === null || rate === null || count === null) return first;
  if (lengthInLabels(first, last, rate) === frames) return first;
  const miscounted: Ratio = { num: count - 1, den: 1 };
  if (first.drop || lengthInLabels(first, last, miscounted) !== frames) return first;
  const counter = toFrameNumber(first, miscounted);
  return counter === null ? null : fromFrameNumber(counter, rate, false);
}

function lengthInLabels(first: Timecode, last: Timecode, rate: Ratio): number | null {
  const from = toFrameNumber(first, rate);
  const to = toFrameNumber(last, rate);
  if (from === null || to === null) return null;
  const day = DAY_HOURS * (toFrameNumber({ hours: 1, minutes: 0, seconds: 0, frames: 0, drop: first.drop }, rate) ?? 0);
  return 1 + (to < from ? to + day - from : to - from);
}

/** A label that exists at that rate; without a rate any label. */
function valid(label: string | null, rate: Ratio | null): Timecode | null {
  const timecode = parseTimecode(label ?? '');
  return timecode === null || rate === null || toFrameNumber(timecode, rate) !== null ? timecode : null;
}

function isZero(timecode: Timecode): boolean {
  return formatTimecode({ ...timecode, drop: false }) === '00:00:00:00';
}

/** Reel: name of the timecode track (QuickTime), of the package (MXF), or a tag. */
export function reelOf(raw: Pick<RawProbe, 'tracks'>): string | null {
  const [general] = tracksOf(raw, 'General');
  const named = tracksOf(raw, 'Other').find(
    (track) => text(track, 'Type') === 'Time code' && text(track, 'Title') !== null,
  );
  const tags = extra(general);
  const packageName = text(general, 'PackageName');
  // Authoring software names a package by its kind when it was given no name.
  const reel = packageName !== null && /\bpackage\b/i.test(packageName) ? null : packageName;
  return text(named, 'Title') ?? reel ?? text(tags, 'REEL_NAME') ?? text(tags, 'reel_name');
}

/**
 * Camera: maker and model as the camera wrote them. `Encoded_Application` names what wrote the container, which in a copy or
 * an export is a program: never a camera.
 */
export function cameraOf(raw: Pick<RawProbe, 'tracks'>): string | null {
  const [general] = tracksOf(raw, 'General');
  const tags = extra(general);
  const model = text(general, 'Encoded_Hardware_Name') ?? text(general, 'Encoded_Hardware') ?? text(tags, 'model');
  const maker = text(general, 'Encoded_Hardware_CompanyName') ?? text(tags, 'make');
  if (model === null || maker === null) return model;
  return model.toLowerCase().startsWith(maker.toLowerCase()) ? model : `${maker} ${model}`;
}

/** Whether a sound file has the header of a Broadcast Wave (EBU Tech 3285), which tells when it was recorded. */
export function hasSoundHeader(general: RawTrack | undefined): boolean {
  return text(extra(general), 'bext_Present') === 'Yes';
}

/** When it was recorded, as the file tells it: the camera's own key before the container's date. */
export function recordedAt(raw: Pick<RawProbe, 'tracks'>): Pick<ClipFacts, 'recordedAt' | 'recordedAtBasis'> {
  const [general] = tracksOf(raw, 'General');
  const [video] = tracksOf(raw, 'Video');
  for (const told of [text(general, 'Recorded_Date'), text(general, 'Encoded_Date'), text(video, 'Encoded_Date')]) {
    const date = isoDate(told ?? '');
    if (date !== null) {
      return { recordedAt: date, recordedAtBasis: hasSoundHeader(general) ? 'sound-header' : 'container' };
    }
  }
  return { recordedAt: null, recordedAtBasis: null };
}

const DATE = /^(?:UTC )?(\d{4})-(\d{2})-(\d{2})(?:[ T](\d{2}:\d{2}:\d{2}(?:\.\d+)?)\s*(UTC|Z|[+-]\d{2}:?\d{2})?)?$/;

/**
 * `2027-03-04T20:15:00Z`; without zone where the file tells none. `null` for the dates that clocks and containers have
 * when nobody set them: the years 0, 1904 (QuickTime's epoch) and 1970 (Unix's).
 */
export function isoDate(told: string): string | null {
  const parts = DATE.exec(told);
  if (parts === null) return null;
  const [, year = '', month = '', day = '', time, zone] = parts;
  if (Number(year) <= 1970 || !exists(Number(year), Number(month), Number(day))) return null;
  if (time === undefined) return `${year}-${month}-${day}`;
  const utc = zone === 'UTC' || zone === 'Z' || told.startsWith('UTC ');
  return `${year}-${month}-${day}T${time}${utc ? 'Z' : (zone ?? '').replace(/^(...)(\d\d)$/, '$1:$2')}`;
}

function exists(year: number, month: number, day: number): boolean {
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0;
  const days = [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1];
  return days !== undefined && day >= 1 && day <= days;
}
