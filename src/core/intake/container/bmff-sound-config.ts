import { bytesOf, type Part, u8 } from './bmff-parts.ts';

/** What a codec's own set-up in the sample description tells, where the description's fields are templates. */
export interface SoundFormat {
  channels: number | null;
  sampleRate: number | null;
}

/** ISO/IEC 14496-3 table 1.18: rates by index. */
const AAC_RATES: readonly number[] = [
  96_000, 88_200, 64_000, 48_000, 44_100, 32_000, 24_000, 22_050, 16_000, 12_000, 11_025, 8000, 7350,
];

/** ISO/IEC 14496-3 table 1.19: channels by configuration; 0 is told elsewhere. */
const AAC_CHANNELS: readonly number[] = [0, 1, 2, 3, 4, 5, 6, 8, 0, 0, 0, 7, 8, 0, 8];

const AAC_OBJECT_TYPES = new Set([0x40, 0x66, 0x67, 0x68]);
const SPECTRAL_BAND_REPLICATION = 5;
const PARAMETRIC_STEREO = 29;

/** ISO/IEC 14496-1 clause 7.2.6: descriptors inside one another, down to the decoder's set-up. `null`: there is no AAC set-up. */
export function aacFormat(esds: Part): SoundFormat | null {
  const bytes = bytesOf(esds, 4);
  const stream = descriptor(bytes, 0, 3);
  if (stream === null) return null;
  const flags = bytes[stream + 2] ?? 0;
  const url = flags & 0x40 ? 1 + (bytes[stream + 3 + (flags & 0x80 ? 2 : 0)] ?? 0) : 0;
  const decoder = descriptor(bytes, stream + 3 + (flags & 0x80 ? 2 : 0) + url + (flags & 0x20 ? 2 : 0), 4);
  if (decoder === null || !AAC_OBJECT_TYPES.has(bytes[decoder] ?? 0)) return null;
  const setUp = descriptor(bytes, decoder + 13, 5);
  return setUp === null ? null : audioSpecific(bitReader(bytes, setUp));
}

/** Where the content of a descriptor with this tag begins; its length takes one to four bytes, seven bits in each. */
function descriptor(bytes: Uint8Array, at: number, tag: number): number | null {
  if (bytes[at] !== tag) return null;
  for (let next = at + 1; next <= at + 4 && next < bytes.length; next += 1) {
    if (((bytes[next] ?? 0) & 0x80) === 0) return next + 1;
  }
  return null;
}

/** ISO/IEC 14496-3 clause 1.6.2.1. The rate is what is heard: that of the extension where one is stated. */
function audioSpecific(bits: (width: number) => number): SoundFormat {
  const object = objectType(bits);
  const base = frequency(bits);
  const configuration = bits(4);
  const extended = object === SPECTRAL_BAND_REPLICATION || object === PARAMETRIC_STEREO ? frequency(bits) : null;
  const channels = AAC_CHANNELS[configuration] || null;
  return { channels: object === PARAMETRIC_STEREO && channels === 1 ? 2 : channels, sampleRate: extended ?? base };
}

function objectType(bits: (width: number) => number): number {
  const short = bits(5);
  return short === 31 ? 32 + bits(6) : short;
}

function frequency(bits: (width: number) => number): number | null {
  const index = bits(4);
  return index === 15 ? bits(24) : (AAC_RATES[index] ?? null);
}

function bitReader(bytes: Uint8Array, start: number): (width: number) => number {
  let at = start * 8;
  return (width) => {
    let value = 0;
    for (const last = at + width; at < last; at += 1) {
      value = value * 2 + (((bytes[at >> 3] ?? 0) >> (7 - (at & 7))) & 1);
    }
    return value;
  };
}

/** ETSI TS 102 366 annex F.4: after rate, stream id and mode (10 bits) come three bits of coding mode and one for a low frequency channel. */
export function ac3Channels(dac3: Part): number {
  const mode = (u8(dac3, 1) >> 3) & 7;
  const low = (u8(dac3, 1) >> 2) & 1;
  return ([2, 1, 2, 3, 3, 4, 4, 5][mode] ?? 0) + low;
}
