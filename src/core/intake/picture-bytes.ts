import type { Ratio } from '../model.ts';
import { d10Megabits } from './format-name.ts';
import { positive, type RawTrack, text } from './raw-track.ts';

/** What the bytes of the picture are found from. */
export interface PictureSource {
  track: RawTrack;
  /** Format of the container, as the probe library calls it. */
  container: string | null;
  frames: number | null;
  /** Constant rate, or `null`. */
  rate: Ratio | null;
  /** Bytes of the file, and of the sound in it as far as known. */
  sizeBytes: number;
  soundBytes: number;
}

/** Length of a DIF sequence: 150 blocks of 80 bytes (IEC 61834, SMPTE ST 314). */
const DIF_SEQUENCE = 12_000;

/** How much of an MXF file may be neither picture nor sound (index, fill, system items) before the sum is not believed. */
const WRAPPING = { share: 0.1, bytes: 262_144 };

/**
 * Bytes of picture essence, exact or `null`. The bit rate in the header is no help: it is nominal (20 Mb/s over packets that
 * make 19; 0.2 Mb/s over 6), and so is every stream size that the library computes from it. Exact are:
 * - QuickTime, MP4, AVI: the sum of the sample table;
 * - a raw DV stream: the file;
 * - MXF: formats whose frames are all of one published size. Of others nothing is known without reading the whole file.
 */
export function pictureBytes(source: PictureSource): number | null {
  const bytes = declaredBytes(source);
  return bytes !== null && bytes > 0 && bytes <= source.sizeBytes ? bytes : null;
}

function declaredBytes(source: PictureSource): number | null {
  const { track, container, sizeBytes } = source;
  switch (container) {
    case 'MPEG-4':
    case 'AVI':
      // For DV `StreamSize` leaves out the sound and subcode inside the frames; `_Encoded` is what is stored.
      return positive(track, 'StreamSize_Encoded') ?? positive(track, 'StreamSize');
    case 'DV':
      return sizeBytes;
    case 'MXF':
      return wrappedBytes(source);
    default:
      return null;
  }
}

function wrappedBytes(source: PictureSource): number | null {
  const { frames, sizeBytes, soundBytes } = source;
  const frame = frameBytes(source);
  if (frame === null || frames === null) return null;
  const bytes = frame * frames;
  const rest = sizeBytes - soundBytes - bytes;
  return rest <= Math.max(bytes * WRAPPING.share, WRAPPING.bytes) ? bytes : null;
}

function frameBytes(source: PictureSource): number | null {
  const { track, rate } = source;
  if (rate === null) return null;
  switch (text(track, 'Format')) {
    case 'VC-3': {
      // The library has the frame size from the compression id (SMPTE ST 2019-1) and tells it as a rate, to the bit.
      const bitrate = text(track, 'BitRate_Mode') === 'CBR' ? positive(track, 'BitRate') : null;
      return bitrate === null ? null : Math.round((bitrate * rate.den) / rate.num / 8);
    }
    case 'DV':
      return difFrameBytes(source, rate);
    case 'MPEG Video':
      return d10FrameBytes(track, rate);
    default:
      return null;
  }
}

/**
 * DV frame: DIF sequences x 12,000 bytes; 12 sequences a channel in 25/50 Hz systems, 10 in 29.97/59.94; one channel in
 * DV25, two in DV50 and 720p, four in 1080i (IEC 61834, SMPTE ST 314, ST 370). How many channels is not told for every
 * wrapping, and wrongly for some: the file has room for one answer only.
 */
function difFrameBytes({ frames, sizeBytes, soundBytes }: PictureSource, rate: Ratio): number | null {
  const hertz = Math.round(rate.num / rate.den);
  const sequences = hertz % 25 === 0 ? 12 : hertz % 30 === 0 ? 10 : null;
  if (sequences === null || frames === null) return null;
  const room = (sizeBytes - soundBytes) / frames;
  const channels = [4, 2, 1].find((count) => count * sequences * DIF_SEQUENCE <= room);
  return channels === undefined ? null : channels * sequences * DIF_SEQUENCE;
}

/** D-10 frame: the whole bytes of 30, 40 or 50 Mb/s in one frame (SMPTE ST 356): 208,541 at 50 Mb/s and 29.97. */
function d10FrameBytes(track: RawTrack, rate: Ratio): number | null {
  const megabits = d10Megabits(track);
  return megabits === null ? null : Math.floor((megabits * 1e6 * rate.den) / rate.num / 8);
}
