import { u32le } from './reading.ts';
import { u16le } from './riff-chunks.ts';

/** What the trade calls WAVEFORMATEX: the `fmt ` chunk of a WAV, the stream format of sound in an AVI. */
export interface SoundFormat {
  /** Format as RFC 2361 registers them: `0x0001`. */
  codecId: string;
  channels: number | null;
  sampleRate: number | null;
  /** Bits that count, of PCM and float; the sample may take more room. */
  bitDepth: number | null;
  /** Bytes of one sample of every channel, of PCM and float; of other formats a sample has no fixed size: `null`. */
  frameBytes: number | null;
}

const PCM = 1;
const FLOAT = 3;
/** The format is in the first two bytes of the GUID behind; the 14 others are the same for all registered ones. */
const EXTENSIBLE = 0xfffe;
const EXTENSIBLE_BYTES = 40;

/**
 * Reads a sound format. `wBitsPerSample` is the room of a sample, rounded up to bytes where a writer gave its depth there
 * (RIFF New Multimedia Data Types, 1994); `wValidBitsPerSample` of the extensible form the bits in use.
 * @returns `null` for less than the 14 bytes that every format has
 */
export function soundFormat(bytes: Uint8Array): SoundFormat | null {
  if (bytes.length < 14) return null;
  const extensible = u16le(bytes, 0) === EXTENSIBLE && bytes.length >= EXTENSIBLE_BYTES;
  const tag = extensible ? u16le(bytes, 24) : u16le(bytes, 0);
  const channels = positive(u16le(bytes, 2));
  const align = positive(u16le(bytes, 12));
  const linear = (tag === PCM || tag === FLOAT) && channels !== null && bytes.length >= 16;
  const room = linear ? u16le(bytes, 14) : 0;
  const valid = extensible ? u16le(bytes, 18) : 0;
  const fits = linear && align === Math.ceil(room / 8) * channels;
  return {
    codecId: `0x${tag.toString(16).padStart(4, '0')}`,
    channels,
    sampleRate: positive(u32le(bytes, 4)),
    bitDepth: valid > 0 && valid <= room ? valid : positive(room),
    frameBytes: fits ? align : null,
  };
}

function positive(value: number): number | null {
  return value > 0 ? value : null;
}
