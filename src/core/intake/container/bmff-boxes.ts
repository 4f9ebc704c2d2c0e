import { allZero, fourcc, MAX_PARTS, type Read, u32be, u64be } from './reading.ts';

/** One box, ISO/IEC 14496-12 clause 4.2. Positions are byte offsets in the file. */
export interface Box {
  type: string;
  start: number;
  /** First byte of the content. */
  content: number;
  /** First byte behind the box, as it states; beyond the end of the file when the file is cut. */
  end: number;
  /** It states no size and reaches to the end of the file. */
  open: boolean;
}

/** Why a walk over boxes ended. */
export type WalkEnd = 'end' | 'past-end' | 'stub' | 'zeros' | 'no-box' | 'too-many';

export interface Walk {
  boxes: Box[];
  ended: WalkEnd;
  /** Where it ended. */
  at: number;
}

/**
 * Walks the boxes of a file with one 16-byte read each. A box past the end is the last one in the list.
 * @param visit is shown each box that is all there, when the walk comes to it
 */
export function walkBoxes(read: Read, end: number, visit: (box: Box) => void): Walk {
  const boxes: Box[] = [];
  let at = 0;
  while (at < end) {
    if (boxes.length >= MAX_PARTS) return { boxes, ended: 'too-many', at };
    const head = read(at, Math.min(16, end - at));
    if (head.length < 8) return { boxes, ended: 'stub', at };
    if (allZero(head)) return { boxes, ended: 'zeros', at };
    const box = readBox(head, at, end);
    if (box === null) return { boxes, ended: head.length < 16 && u32be(head, 0) === 1 ? 'stub' : 'no-box', at };
    boxes.push(box);
    if (box.end > end) return { boxes, ended: 'past-end', at };
    visit(box);
    at = box.end;
  }
  return { boxes, ended: 'end', at };
}

function readBox(head: Uint8Array, start: number, end: number): Box | null {
  const type = fourcc(head, 4);
  if (!isBoxType(type)) return null;
  const size = u32be(head, 0);
  if (size === 0) return { type, start, content: start + 8, end, open: true };
  const large = size === 1;
  if (large && head.length < 16) return null;
  const length = large ? u64be(head, 8) : size;
  const header = large ? 16 : 8;
  return length < header ? null : { type, start, content: start + header, end: start + length, open: false };
}

/** Four printable characters; the first may be the copyright sign that QuickTime user data uses. */
function isBoxType(type: string): boolean {
  return /^[\x20-\x7e\xa9][\x20-\x7e]{3}$/.test(type);
}
