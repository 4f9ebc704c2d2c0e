import { ascii, join, le32 } from './media.ts';
import { chunk, le16, le64, riff } from './riff-files.ts';

/** Parts of WAV files, by their published layouts. */

export interface Pcm {
  tag?: number;
  channels?: number;
  rate?: number;
  bits?: number;
  /** Room of one sample in bytes. */
  room?: number;
}

/** WAVEFORMAT with `wBitsPerSample` (Multimedia Programming Interface and Data Specifications 1.0). */
export function format({
  tag = 1,
  channels = 2,
  rate = 48_000,
  bits = 24,
  room = Math.ceil(bits / 8),
}: Pcm = {}): Uint8Array {
  const align = channels * room;
  return chunk('fmt ', join(le16(tag), le16(channels), le32(rate), le32(rate * align), le16(align), le16(bits)));
}

/** WAVEFORMATEXTENSIBLE: 22 bytes behind the plain form; valid bits, speakers, and a GUID that begins with the format. */
export function extensible(tag: number, channels: number, room: number, valid: number): Uint8Array {
  const align = channels * room;
  const guid = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];
  const plain = join(le16(0xfffe), le16(channels), le32(48_000), le32(48_000 * align), le16(align), le16(room * 8));
  return chunk('fmt ', join(plain, le16(22), le16(valid), le32(0), le16(tag), guid));
}

export interface Bext {
  description?: string;
  date?: string;
  time?: string;
  reference?: number;
}

/**
 * EBU Tech 3285 version 2, clause 2.3: description 256, originator 32, reference 32, date 10, time 8, time reference low 4 and
 * high 4, version 2, UMID 64, loudness 10, reserved 180: 602 bytes, then coding history.
 */
export function bext({ description = '', date = '', time = '', reference = 0 }: Bext = {}, history = ''): Uint8Array {
  const field = (text: string, length: number) => join(ascii(text), new Uint8Array(length - text.length));
  const named = join(field(description, 256), field('Fen Sound 8', 32), field('', 32), field(date, 10), field(time, 8));
  return chunk('bext', join(named, le64(reference), le16(2), new Uint8Array(64 + 10 + 180), ascii(history)));
}

export function data(bytes: number): Uint8Array {
  return chunk('data', new Uint8Array(bytes).fill(7));
}

/** A Broadcast Wave of 10 ms of stereo at 24 bit between what is written before and behind the sound. */
export function wave(before: Uint8Array[] = [], behind: Uint8Array[] = []): Uint8Array {
  return riff('WAVE', format(), ...before, data(2880), ...behind);
}

export interface Speed {
  rate?: string;
  flag?: string;
  high?: string;
  low?: string;
  perSecond?: string;
}

/** SPEED of the iXML specification. */
export function speed({ rate, flag, high, low, perSecond }: Speed): string {
  const element = (name: string, text?: string) => (text === undefined ? '' : `<${name}>${text}</${name}>\n`);
  return element(
    'SPEED',
    [
      element('TIMECODE_RATE', rate),
      element('TIMECODE_FLAG', flag),
      element('TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI', high),
      element('TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO', low),
      element('TIMESTAMP_SAMPLE_RATE', perSecond),
    ].join(''),
  );
}

export function ixml(inside: string): Uint8Array {
  const text = `<?xml version="1.0" encoding="UTF-8"?>\n<BWFXML>\n<IXML_VERSION>2.10</IXML_VERSION>\n${inside}</BWFXML>\n`;
  return chunk('iXML', new TextEncoder().encode(text));
}

/** RF64 or BW64 with `data` of any stated length: EBU Tech 3306 clause 3, ds64 of 28 bytes: form, data, samples, table. */
export function ds64(
  form: number,
  bytes: number,
  samples: number,
  table: readonly (readonly [string, number])[] = [],
): Uint8Array {
  const entries = table.map(([id, length]) => join(ascii(id), le64(length)));
  return chunk('ds64', join(le64(form), le64(bytes), le64(samples), le32(table.length), ...entries));
}
