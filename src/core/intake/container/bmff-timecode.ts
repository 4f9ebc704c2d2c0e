import type { Ratio } from '../../model.ts';
import { exact } from '../frame-rate.ts';
import { countingRate, fromFrameNumber } from '../timecode.ts';
import { ratio } from './bmff-pace.ts';
import { type Tell, u8, u32 } from './bmff-parts.ts';
import { internationalText } from './bmff-text.ts';
import { type Edit, entryParts, type Trak } from './bmff-trak.ts';
import { type Read, u32be } from './reading.ts';
import type { StartTimecode } from './structure.ts';

/** Fixed fields of a timecode sample description, QuickTime File Format, Timecode Sample Description. */
const FIXED_BYTES = 26;

const DROP = 0x1;
const TAPE_COUNTER = 0x8;

/** Where a timecode track lies on the presentation's time line. */
export interface TimecodePosition {
  /** Where its first counter lies in the file. */
  offset: number | null;
  /** Ticks a second of the movie's clock, in which empty edits are counted. */
  movieTimescale: number;
  /** Edit of the picture it belongs to. */
  picture: Edit;
  /** Length of the first counter's run in ticks of the track's clock; `null`: not told. */
  firstRun: number | null;
}

export function isTimecode(trak: Trak): boolean {
  return trak.entry?.type === 'tmcd' || trak.entry?.type === 'tc64';
}

/**
 * The timecode of the first picture shown. A sample holds the number of its first frame (QuickTime File Format, Timecode
 * Sample Data), so the counter is that of the start of the track's media. Edit lists (ISO/IEC 14496-12 clause 8.6.6) put
 * media on the presentation's time line: where the track's list leaves out its start, or begins it sooner or later than the
 * picture, the first picture shown is so many frames on, and the note says so. A picture's own left-out start is no
 * difference: the time line begins behind it.
 */
export function readTimecode(trak: Trak, position: TimecodePosition, read: Read, tell: Tell): StartTimecode | null {
  const { entry } = trak;
  if (entry === null) return null;
  const told = ratio(u32(entry, 16), u32(entry, 20));
  const rate = told === null ? null : exact(told);
  const counting = rate === null ? null : countingRate(rate);
  if (rate === null || counting === null || rate.num > rate.den * 1000) return fail(tell, 'states no frame rate');
  if (trak.outside) return fail(tell, 'has its data in another file');
  const counter = position.offset === null ? null : readCounter(read, position.offset, entry.type === 'tc64');
  if (counter === null) return fail(tell, 'has no counter in this file');
  const shift = shiftOf(trak, position, rate);
  if (shift === null) return fail(tell, 'begins, by its edit list, where its first counter no longer counts');
  const flags = u32(entry, 12);
  const dropStated = (flags & DROP) !== 0;
  const drop = dropStated && fromFrameNumber(0, rate, true) !== null;
  const notes = [
    ...(dropStated && !drop ? [`drop-frame is set at ${name(rate)}, which knows none`] : []),
    ...rateNotes(u8(entry, 24), counting, rate),
    ...counterNotes(counter, counting, flags),
    ...(shift === 0 ? [] : [`the edit list moves it by ${shift} frames from the counter's ${counter}`]),
  ];
  if (shift !== 0) tell(`the edit list moves the start timecode by ${shift} frames`);
  return {
    place: 'timecode-track',
    frame: counter + shift,
    rate,
    drop,
    note: notes.length > 0 ? notes.join('; ') : null,
  };
}

function fail(tell: Tell, why: string): null {
  tell(`a timecode track ${why}`);
  return null;
}

/** Some cameras state 29 beside 29.97: the counter is right, and labels are made with the rate rounded (SMPTE ST 12-1). */
function rateNotes(stated: number, counting: number, rate: Ratio): string[] {
  return stated === counting ? [] : [`it states ${stated} frames a second at ${name(rate)}: counted as ${counting}`];
}

function counterNotes(counter: number, counting: number, flags: number): string[] {
  const day = counting * 86_400;
  return [
    ...(flags & TAPE_COUNTER ? ['a tape counter, not a time of day'] : []),
    ...(counter < 0 ? ['the counter is negative'] : []),
    ...(Math.abs(counter) >= day ? ['the counter is beyond 24 hours'] : []),
  ];
}

function name({ num, den }: Ratio): string {
  return den === 1 ? `${num} a second` : `${num}/${den} a second`;
}

/** A signed 32-bit frame number, or 64-bit in the newer kind of track. */
function readCounter(read: Read, offset: number, wide: boolean): number | null {
  const bytes = read(offset, wide ? 8 : 4);
  if (bytes.length < (wide ? 8 : 4)) return null;
  const counter = wide ? (u32be(bytes, 0) | 0) * 0x1_0000_0000 + u32be(bytes, 4) : u32be(bytes, 0) | 0;
  return Number.isSafeInteger(counter) ? counter : null;
}

/** Whole frames from the counter to the first picture shown; `null` where another counter applies there. */
function shiftOf(trak: Trak, { movieTimescale, picture, firstRun }: TimecodePosition, rate: Ratio): number | null {
  const { skipped, empty } = trak.edit;
  if (skipped > 0 && firstRun !== null && skipped >= firstRun) return null;
  const left = trak.timescale > 0 ? skipped / trak.timescale : 0;
  const later = movieTimescale > 0 ? (picture.empty - empty) / movieTimescale : 0;
  const frames = ((left + later) * rate.num) / rate.den;
  // A frame counts once it is over; a movie clock of milliseconds may be half of one off.
  return Number.isSafeInteger(Math.floor(frames)) ? Math.floor(frames + 0.05) : 0;
}

/** The reel: the name of the source that the description gives (its user data, entry `name`), as international text. */
export function reelOfTimecode(trak: Trak): string | null {
  if (trak.entry === null) return null;
  const named = entryParts(trak.entry, FIXED_BYTES).find((part) => part.type === 'name');
  return named === undefined ? null : internationalText(named);
}
