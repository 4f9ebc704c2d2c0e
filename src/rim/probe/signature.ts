import { type Sniffed, sniff } from '../../core/intake/container/sniff.ts';

/**
 * Does a file begin like media at all? The probe library searches content that it does not know for every format it
 * knows: an all-zero file costs it seconds and hundreds of megabytes. What is not recognised here never gets to it.
 */

/** Bytes of the head that are looked at: an MXF file may have a run-in of 64 KiB. */
export const HEAD_BYTES = 65_536;

interface Mark {
  at: number;
  /** Taken byte by byte as Latin-1. */
  bytes: string;
}

const at = (offset: number, ...texts: string[]): Mark[] => texts.map((bytes) => ({ at: offset, bytes }));

/** Magic numbers, from the formats' own specifications, of what the look at the structure does not go into. */
const MARKS: readonly Mark[] = [
  // JPEG 2000 and JPEG XL boxes; chunked files: big-endian RIFF, Wave64, AIFF, Core Audio, DSD.
  ...at(4, 'jP  ', 'JXL '),
  ...at(0, 'RIFX', 'riff\x2e\x91\xcf\x11', 'FORM', 'caff', 'FRM8', 'DSD '),
  // Ogg, FLAC, ASF, FLV, IVF, YUV4MPEG2, Sun audio, GXF (SMPTE ST 360).
  ...at(0, 'OggS', 'fLaC', '\x30\x26\xb2\x75\x8e\x66\xcf\x11', 'FLV', 'DKIF', 'YUV4MPEG2', '.snd'),
  ...at(0, '\x00\x00\x00\x00\x01\xbc'),
  // MPEG program stream, MPEG-1/2 sequence, H.264/H.265 Annex B; MPEG and AC-3 sound, ID3; DV that starts oddly.
  ...at(0, '\x00\x00\x01\xba', '\x00\x00\x01\xb3', '\x00\x00\x00\x01', '\x00\x00\x01\x09', '\x00\x00\x01\x67'),
  ...at(0, 'ID3', '\xff\xfb', '\xff\xf3', '\xff\xfa', '\xff\xf2', '\xff\xf1', '\xff\xf9', '\x0b\x77', 'wvpk'),
  ...at(0, '\x1f\x07\x00'),
  // Camera raw clips and frames; Cineon in both byte orders, OpenEXR, TIFF and its kin, JPEG, JPEG 2000, PNG, others.
  ...at(4, 'RED1', 'RED2'),
  ...at(0, 'ARRI', '\x80\x2a\x5f\xd7', '\xd7\x5f\x2a\x80', '\x76\x2f\x31\x01', '\xff\xd8\xff', '\xff\x4f\xff\x51'),
  ...at(
    0,
    'II*\x00',
    'MM\x00*',
    'II+\x00',
    'MM\x00+',
    'IIU\x00',
    'IIRO',
    'IIRS',
    'MMOR',
    'FUJIFILM',
    '\x00MRM',
    'FOVb',
  ),
  ...at(0, '\x89PNG', 'GIF8', 'BM', '8BPS', '\xff\x0a', 'II\x1a\x00\x00\x00HEAPCCDR'),
];

/**
 * Looks at the first bytes of a file.
 * @param head the first `HEAD_BYTES`, or the whole file when it is shorter
 * @returns `null` when it begins like a media format, else in words what it begins like
 */
export function whyNotMedia(head: Uint8Array): string | null {
  if (head.length === 0) return 'the file is empty';
  const found: Sniffed = sniff(head);
  if (found === 'zeros') return 'its content is all zeros: room was reserved, nothing was written';
  if (found === 'text') return 'its content is text';
  if (found !== 'unknown' || MARKS.some((mark) => isAt(head, mark))) return null;
  return 'it does not begin like any media format that is known here';
}

function isAt(head: Uint8Array, mark: Mark): boolean {
  if (head.length < mark.at + mark.bytes.length) return false;
  for (let i = 0; i < mark.bytes.length; i++) if (head[mark.at + i] !== mark.bytes.charCodeAt(i)) return false;
  return true;
}
