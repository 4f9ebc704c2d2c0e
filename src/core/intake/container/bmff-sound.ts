import { f64, find, inside, type Part, u8, u16, u32 } from './bmff-parts.ts';
import type { Samples } from './bmff-samples.ts';
import { aacFormat, ac3Channels } from './bmff-sound-config.ts';
import { codecOf, entryParts, type Trak } from './bmff-trak.ts';
import type { SoundTrack } from './structure.ts';

/** Fixed fields of sound descriptions, QuickTime File Format, versions 0, 1 and 2; ISO/IEC 14496-12 clause 12.2.3 has the first. */
const FIXED_BYTES = [28, 44, 64] as const;

/** Uncompressed sound: bits per sample that the code fixes; `null`: the description states them. */
const PCM_BITS: Readonly<Record<string, number | null>> = {
  sowt: null,
  twos: null,
  'raw ': null,
  NONE: null,
  lpcm: null,
  ipcm: null,
  fpcm: null,
  in24: 24,
  in32: 32,
  fl32: 32,
  fl64: 64,
};

/** Companded to 8 bits a sample, which is not their depth. */
const COMPANDED = new Set(['ulaw', 'alaw']);

/** Codecs for which MP4 writers state the channels; for others the field is a template that says 2 (clause 12.2.3.2, first editions). */
const STATES_CHANNELS = new Set([...Object.keys(PCM_BITS), ...COMPANDED, 'fLaC', 'alac', 'Opus']);

interface Description {
  channels: number;
  bits: number;
  rate: number;
  /** Of version 1 and 2: samples and bytes of a packet, bytes of a packet over all channels; 0: not told. */
  packetSamples: number;
  packetBytes: number;
}

/** A sound track. `quicktime` tells whose reading of the description applies. */
export function soundTrack(trak: Trak, samples: Samples, quicktime: boolean): SoundTrack {
  const { entry, timescale } = trak;
  if (entry === null) return { ...NOTHING, ...lengthOf(trak, samples, 0), bytes: samples.bytes };
  const layout = layoutOf(trak, entry);
  const parts = entryParts(entry, FIXED_BYTES[layout]);
  const codecId = codecOf(entry, parts);
  const told = describe(entry, layout);
  const pcm = codecId !== null && codecId in PCM_BITS;
  const stated = statedFormat(parts, codecId, told, quicktime);
  const sampleRate = stated.sampleRate ?? (pcm && timescale > 0 ? timescale : null);
  const bitDepth = pcm ? pcmBits(codecId, told, parts) : losslessBits(codecId, told, parts);
  return {
    type: 'sound',
    codecId,
    channels: stated.channels,
    sampleRate,
    bitDepth,
    ...lengthOf(trak, samples, sampleRate ?? 0),
    bytes: bytesOfSound(samples, told, pcm ? bitDepth : COMPANDED.has(codecId ?? '') ? 8 : null),
  };
}

const NOTHING = { type: 'sound', codecId: null, channels: null, sampleRate: null, bitDepth: null } as const;

/** ISO/IEC 14496-12 uses version 1 in a version 1 table for other things: there the fields are those of version 0. */
function layoutOf({ entryVersion }: Trak, entry: Part): 0 | 1 | 2 {
  const stated = u16(entry, 8);
  if (stated === 2) return 2;
  return stated === 1 && entryVersion === 0 ? 1 : 0;
}

function describe(entry: Part, layout: 0 | 1 | 2): Description {
  if (layout === 2) {
    const [rate, channels, bits] = [f64(entry, 32), u32(entry, 40), u32(entry, 48)];
    return { channels, bits, rate, packetBytes: u32(entry, 56), packetSamples: u32(entry, 60) };
  }
  const packet = layout === 1 ? { packetSamples: u32(entry, 28), packetBytes: u32(entry, 36) } : NO_PACKET;
  return { channels: u16(entry, 16), bits: u16(entry, 18), rate: u32(entry, 24) / 65_536, ...packet };
}

const NO_PACKET = { packetSamples: 0, packetBytes: 0 };

/** Channels and rate: of the codec's own set-up where there is one, else of the description where that is to be believed. */
function statedFormat(parts: readonly Part[], codecId: string | null, told: Description, quicktime: boolean) {
  const rate = told.rate >= 1 && told.rate < 1e8 ? told.rate : null;
  const channels = told.channels > 0 && told.channels <= 1024 ? told.channels : null;
  const nested = inside(parts, 'wave', () => {});
  const esds = find(parts, 'esds') ?? find(nested, 'esds');
  const aac = esds === null ? null : aacFormat(esds);
  if (aac !== null) return { channels: aac.channels, sampleRate: aac.sampleRate ?? rate };
  const dac3 = find(parts, 'dac3') ?? find(nested, 'dac3');
  if (dac3 !== null) return { channels: ac3Channels(dac3), sampleRate: rate };
  const believed = quicktime || STATES_CHANNELS.has(codecId ?? '');
  return { channels: believed ? channels : null, sampleRate: rate };
}

/** Some writers state 16 beside packets of three bytes a sample: the packet is what is stored. */
function pcmBits(
  codecId: string,
  { bits, channels, packetSamples, packetBytes }: Description,
  parts: readonly Part[],
): number | null {
  const fixed = PCM_BITS[codecId];
  if (fixed !== null && fixed !== undefined) return fixed;
  // ISO/IEC 23003-5: PCM configuration, size of a sample in its second byte.
  const config = find(parts, 'pcmC');
  const stated = config !== null ? u8(config, 5) : bits;
  const stored = packetSamples === 1 && channels > 0 ? (packetBytes * 8) / channels : 0;
  const depth = stored > stated && stored <= 64 && Number.isInteger(stored) ? stored : stated;
  return depth > 0 && depth <= 64 ? depth : null;
}

/** Lossless codecs: FLAC states its depth in the description, ALAC in its set-up, behind version, packet length and a byte. */
function losslessBits(codecId: string | null, { bits }: Description, parts: readonly Part[]): number | null {
  if (codecId === 'fLaC') return bits > 0 && bits <= 32 ? bits : null;
  const setUp =
    codecId === 'alac'
      ? (find(parts, 'alac') ??
        find(
          inside(parts, 'wave', () => {}),
          'alac',
        ))
      : null;
  return setUp === null ? null : u8(setUp, 9) || null;
}

/**
 * QuickTime counts uncompressed sound in samples of "size 1" (File Format, Sound Sample Descriptions): then, and for packets
 * of a fixed size, the bytes are those of the packets.
 */
function bytesOfSound({ count, bytes, each }: Samples, told: Description, bits: number | null): number | null {
  if (count === null || each !== 1) return bytes;
  const { packetSamples, packetBytes, channels } = told;
  if (packetSamples > 0 && packetBytes > 0) return Math.ceil(count / packetSamples) * packetBytes;
  return bits === null || channels === 0 ? null : count * channels * Math.ceil(bits / 8);
}

function lengthOf(
  { timescale }: Trak,
  { ticks }: Samples,
  rate: number,
): Pick<SoundTrack, 'samples' | 'durationSeconds'> {
  if (ticks === null || timescale <= 0) return { samples: null, durationSeconds: null };
  const samples = (ticks * rate) / timescale;
  return { samples: samples > 0 && Number.isSafeInteger(samples) ? samples : null, durationSeconds: ticks / timescale };
}
