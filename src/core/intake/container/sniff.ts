import { allZero, fourcc, startsWith, u32be } from './reading.ts';

/** What a file's first bytes say it is. */
export type Sniffed = 'bmff' | 'mxf' | 'riff' | 'rf64' | 'dpx' | 'ebml' | 'ts' | 'dv' | 'zeros' | 'text' | 'unknown';

/** Boxes a file of this family may begin with; without `ftyp` in QuickTime files from before 2004. */
const FIRST_BOXES = new Set(['ftyp', 'styp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot', 'moof', 'sidx', 'uuid']);

/** First 11 bytes of every partition pack key, SMPTE ST 377-1; then 01, kind (02 header), status, 00. */
export const MXF_PARTITION_KEY: readonly number[] = [6, 0x0e, 0x2b, 0x34, 2, 5, 1, 1, 0x0d, 1, 2, 1, 1];

const EBML_MAGIC: readonly number[] = [0x1a, 0x45, 0xdf, 0xa3];
const DIF_HEADER_ID: readonly number[] = [0x1f, 7, 0];
const DIF_SUBCODE_ID: readonly number[] = [0x3f, 7, 0];
const DIF_BLOCK = 80;
const TS_SYNC = 0x47;

/** The starts of containers that look like text as long as nothing follows. */
const TEXT_MAGICS: readonly string[] = ['RIFF', 'RF64', 'BW64', 'SDPX', 'XPDS'];

/** Whether these few bytes are the first ones of such a start: a file of that kind that was cut off at once. */
export function beginsMagic(head: Uint8Array): boolean {
  const text = String.fromCharCode(...head.subarray(0, 4));
  return text !== '' && TEXT_MAGICS.some((magic) => magic.startsWith(text));
}

/** Names the content by its first bytes (512 are enough; a `.mxf` with a run-in needs up to 64 KiB). Never throws. */
export function sniff(head: Uint8Array): Sniffed {
  const tag = fourcc(head, 0);
  if (tag === 'RIFF') return 'riff';
  if (tag === 'RF64' || tag === 'BW64') return 'rf64';
  if (tag === 'SDPX' || tag === 'XPDS') return 'dpx';
  if (startsWith(head, EBML_MAGIC)) return 'ebml';
  if (isBox(head)) return 'bmff';
  if (headerPartitionAt(head) !== null) return 'mxf';
  // SMPTE ST 314: DIF blocks of 80 bytes, a header block and then a subcode block, sequence number 0.
  if (startsWith(head, DIF_HEADER_ID) && startsWith(head, DIF_SUBCODE_ID, DIF_BLOCK)) return 'dv';
  if (isTransportStream(head)) return 'ts';
  if (allZero(head)) return 'zeros';
  return isText(head) ? 'text' : 'unknown';
}

/** Where the header partition begins: 0, or behind a run-in (ST 377-1 allows up to 65,535 bytes of it); `null`: no MXF. */
export function headerPartitionAt(head: Uint8Array): number | null {
  for (let at = 0; at + 16 <= head.length && at <= 65_535; at += 1) {
    if (head[at] === 6 && startsWith(head, MXF_PARTITION_KEY, at) && head[at + 13] === 2) return at;
  }
  return null;
}

function isBox(head: Uint8Array): boolean {
  const size = u32be(head, 0);
  return head.length >= 8 && FIRST_BOXES.has(fourcc(head, 4)) && (size <= 1 || size >= 8);
}

/** ISO/IEC 13818-1: a sync byte every 188 bytes; with a 4-byte time stamp in front of each packet, every 192. */
function isTransportStream(head: Uint8Array): boolean {
  const steady = (first: number, step: number) =>
    head.length > first + 2 * step && [0, 1, 2].every((packet) => head[first + packet * step] === TS_SYNC);
  return steady(0, 188) || steady(4, 192);
}

function isText(head: Uint8Array): boolean {
  if (head.length === 0) return false;
  if (startsWith(head, [0xff, 0xfe]) || startsWith(head, [0xfe, 0xff])) return true;
  const controls = head.some(
    (byte) => byte === 0x7f || (byte < 0x20 && byte !== 9 && byte !== 10 && byte !== 12 && byte !== 13),
  );
  return !controls && isUtf8(head);
}

function isUtf8(bytes: Uint8Array): boolean {
  try {
    // `stream` forgives a character that the end of the head cuts in two.
    new TextDecoder('utf-8', { fatal: true }).decode(bytes, { stream: true });
    return true;
  } catch {
    return false;
  }
}
