import { isoDate } from '../origin.ts';
import { u32le } from './reading.ts';

/** The Broadcast Wave extension: EBU Tech 3285, chunk `bext`. */
export interface SoundHeader {
  description: string;
  /** ISO 8601 without zone, which the header does not have; `null`: not set, or no date. */
  createdAt: string | null;
  /** Samples after midnight at which the sound begins. 0 is also what a writer leaves that sets none. */
  timeReference: bigint;
}

/*
 * Layout of EBU Tech 3285 version 2, clause 2.3: description 256 bytes, originator 32, its reference 32, date 10, time 8,
 * time reference 8, version 2, UMID 64, loudness 10, reserved 180, coding history. A shorter one is read as far as it goes.
 */
const DESCRIPTION_BYTES = 256;
const DATE = 320;
const TIME = 330;
const REFERENCE = 338;

/** Bytes that are looked at. */
export const SOUND_HEADER_BYTES = 346;

/** @returns `null` when the chunk ends before the time reference */
export function soundHeader(bytes: Uint8Array): SoundHeader | null {
  if (bytes.length < SOUND_HEADER_BYTES) return null;
  return {
    description: textAt(bytes, 0, DESCRIPTION_BYTES),
    createdAt: dateOf(textAt(bytes, DATE, 10), textAt(bytes, TIME, 8)),
    timeReference: (BigInt(u32le(bytes, REFERENCE + 4)) << 32n) + BigInt(u32le(bytes, REFERENCE)),
  };
}

/** ASCII up to the first zero. */
function textAt(bytes: Uint8Array, at: number, length: number): string {
  const field = bytes.subarray(at, at + length);
  const end = field.indexOf(0);
  return String.fromCharCode(...(end === -1 ? field : field.subarray(0, end))).trim();
}

/** Any character may part the items (clause 2.3 recommends five of them). Without a time the date alone; with a wrong one nothing. */
function dateOf(date: string, time: string): string | null {
  const day = /^(\d{4})\D(\d{2})\D(\d{2})$/.exec(date);
  if (day === null) return null;
  const [, year, month, dayOfMonth] = day;
  if (time === '') return isoDate(`${year}-${month}-${dayOfMonth}`);
  const clock = /^([01]\d|2[0-3])\D([0-5]\d)\D([0-5]\d)$/.exec(time);
  return clock === null ? null : isoDate(`${year}-${month}-${dayOfMonth} ${clock[1]}:${clock[2]}:${clock[3]}`);
}
