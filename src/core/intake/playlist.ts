/** One stream that a playlist plays. */
export interface PlaylistItem {
  /** Number of the stream as its file is named, without extension: `00000`. */
  clip: string;
  /** How it follows the one before: it begins the list, is new, or continues the same recording in another file. */
  begins: 'list' | 'recording' | 'continuation';
}

const HEADER = 20;
const ITEMS_AT = 10;
const ITEM_FIXED = 13;

/**
 * Reads an AVCHD playlist (PLAYLIST/00000.MPL; on discs .mpls). Source: a published description of the files of two makers'
 * cameras, found by comparing them; a connection of 6 is the same recording in a new file, because FAT32 ends at 4 GB. There
 * is no free standard: what does not fit the description (another signature, an item that ends behind the file, a connection
 * that it does not name) makes the whole list `null`, so that nothing is joined on it.
 */
export function parsePlaylist(bytes: Uint8Array): PlaylistItem[] | null {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  if (bytes.length < HEADER || !/^MPLS\d{4}$/.test(textOf(bytes, 0, 8))) return null;
  const start = view.getUint32(8);
  if (start < HEADER || start + ITEMS_AT > bytes.length) return null;
  const end = start + 4 + view.getUint32(start);
  if (end > bytes.length) return null;
  const items: PlaylistItem[] = [];
  let at = start + ITEMS_AT;
  for (let left = view.getUint16(start + 6); left > 0; left -= 1) {
    if (at + ITEM_FIXED > end) return null;
    const length = view.getUint16(at);
    const item = itemAt(bytes, at, items.length === 0);
    if (item === null || length < ITEM_FIXED - 2 || at + 2 + length > end) return null;
    items.push(item);
    at += 2 + length;
  }
  return items;
}

/** Name and codec, nine characters; then a byte, and the connection in the lower half of the next. */
function itemAt(bytes: Uint8Array, at: number, isFirst: boolean): PlaylistItem | null {
  const [, clip] = /^(\d{5})M2TS$/.exec(textOf(bytes, at + 2, 9)) ?? [];
  const connection = (bytes[at + 12] ?? 0) & 0x0f;
  if (clip === undefined || (connection !== 1 && connection !== 5 && connection !== 6)) return null;
  // Nothing comes before the first, whatever it says.
  if (isFirst) return { clip, begins: 'list' };
  return { clip, begins: connection === 6 ? 'continuation' : 'recording' };
}

function textOf(bytes: Uint8Array, at: number, length: number): string {
  return String.fromCharCode(...bytes.subarray(at, at + length));
}
