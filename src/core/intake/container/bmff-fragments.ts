import type { Box } from './bmff-boxes.ts';
import { addRun, newPace, type Pace } from './bmff-pace.ts';
import { entriesOf, find, i32, inside, type Part, partsOf, readPart, type Tell, u32, u64 } from './bmff-parts.ts';
import type { Read } from './reading.ts';

/** What the movie fragments add to one track. */
export interface FragmentSum {
  bytes: number;
  pace: Pace;
  /** Where its first sample lies in the file; `null`: not told. */
  first: number | null;
}

/** What samples are where neither fragment nor run says so: box `trex`. */
interface Defaults {
  duration: number;
  size: number;
}

/** All fragments of a file, added up while its boxes are walked, so that none is read twice. */
export interface Fragments {
  tracks: Map<number, FragmentSum>;
  seen: number;
  /** One could not be read whole: the sums are too small. */
  lost: boolean;
}

/** What is read of fragment headers at most; a run of sixty pictures takes about 1 KiB. */
const MAX_HEADER_BYTES = 67_108_864;

const MAX_TRACKS = 128;

// Flags of tfhd and trun, ISO/IEC 14496-12 clauses 8.8.7 and 8.8.8.
const HAS_BASE = 0x1;
const HAS_DESCRIPTION = 0x2;
const HAS_DURATION = 0x8;
const HAS_SIZE = 0x10;
const BASE_IS_FRAGMENT = 0x2_0000;
const RUN_OFFSET = 0x1;
const RUN_FIRST_FLAGS = 0x4;
const RUN_DURATION = 0x100;
const RUN_SIZE = 0x200;
const RUN_FLAGS = 0x400;
const RUN_COMPOSITION = 0x800;

/**
 * Adds up fragments one by one, in the order of the file.
 * @param parts the boxes in `moov`, which is in front of all fragments
 * @param timescales clock of each track by its id
 */
export function fragmentCounter(
  parts: readonly Part[],
  timescales: ReadonlyMap<number, number>,
  tell: Tell,
): { fragments: Fragments; add: (read: Read, moof: Box) => void } {
  const fragments: Fragments = { tracks: new Map(), seen: 0, lost: false };
  const defaults = readDefaults(parts, tell);
  let readBytes = 0;
  const sumOf = (id: number): FragmentSum | null => {
    const known = fragments.tracks.get(id);
    if (known !== undefined || fragments.tracks.size >= MAX_TRACKS) return known ?? null;
    const sum = { bytes: 0, pace: newPace(timescales.get(id) ?? 0), first: null };
    fragments.tracks.set(id, sum);
    return sum;
  };
  const add = (read: Read, moof: Box) => {
    fragments.seen += 1;
    readBytes += moof.end - moof.start;
    if (readBytes > MAX_HEADER_BYTES) {
      tell('more headers of movie fragments than are looked at');
      fragments.lost = true;
      return;
    }
    // With the header of the box behind it, which the walk comes to next.
    const block = readPart(read, 'moof', moof.content, moof.end + 16);
    const content: Part = { ...block, end: Math.min(block.end, moof.end - moof.content) };
    for (const traf of partsOf(content, damaged)) {
      if (traf.type === 'traf')
        fragments.lost = !addTrack(traf, moof.start, defaults, sumOf, damaged) || fragments.lost;
    }
  };
  const damaged: Tell = (trouble) => {
    tell(trouble);
    fragments.lost = true;
  };
  return { fragments, add };
}

function readDefaults(parts: readonly Part[], tell: Tell): Map<number, Defaults> {
  const defaults = new Map<number, Defaults>();
  for (const trex of inside(parts, 'mvex', tell)) {
    if (trex.type === 'trex') defaults.set(u32(trex, 4), { duration: u32(trex, 12), size: u32(trex, 16) });
  }
  return defaults;
}

/** @returns false where its samples could not be counted */
function addTrack(
  traf: Part,
  moofStart: number,
  defaults: ReadonlyMap<number, Defaults>,
  sumOf: (id: number) => FragmentSum | null,
  tell: Tell,
): boolean {
  const parts = partsOf(traf, tell);
  const header = find(parts, 'tfhd');
  const sum = header === null ? null : sumOf(u32(header, 4));
  if (header === null || sum === null) return false;
  const flags = u32(header, 0) & 0xff_ffff;
  const ofTrack = defaults.get(u32(header, 4));
  let at = 8;
  const base = (flags & HAS_BASE) === 0 ? moofStart : u64(header, at);
  if (flags & HAS_BASE) at += 8;
  if (flags & HAS_DESCRIPTION) at += 4;
  const duration = flags & HAS_DURATION ? u32(header, at) : (ofTrack?.duration ?? 0);
  if (flags & HAS_DURATION) at += 4;
  const size = flags & HAS_SIZE ? u32(header, at) : (ofTrack?.size ?? 0);
  const known = (flags & (HAS_BASE | BASE_IS_FRAGMENT)) !== 0;
  for (const run of parts) {
    if (run.type !== 'trun') continue;
    if (sum.first === null && u32(run, 0) & RUN_OFFSET && known) sum.first = base + i32(run, 8);
    addRunOf(run, { duration, size }, sum, tell);
  }
  return true;
}

function addRunOf(run: Part, usual: Defaults, sum: FragmentSum, tell: Tell): void {
  const flags = u32(run, 0) & 0xff_ffff;
  const head = 8 + (flags & RUN_OFFSET ? 4 : 0) + (flags & RUN_FIRST_FLAGS ? 4 : 0);
  const sizeAt = flags & RUN_DURATION ? 4 : 0;
  const width = sizeAt + (flags & RUN_SIZE ? 4 : 0) + (flags & RUN_FLAGS ? 4 : 0) + (flags & RUN_COMPOSITION ? 4 : 0);
  const stated = u32(run, 4);
  const count = width === 0 ? stated : entriesOf(run, head, stated, width, tell);
  if (!(flags & RUN_SIZE)) sum.bytes += count * usual.size;
  if (!(flags & RUN_DURATION)) addRun(sum.pace, count, usual.duration);
  if (!(flags & (RUN_SIZE | RUN_DURATION))) return;
  const { view } = run;
  for (let index = 0, at = run.from + head; index < count; index += 1, at += width) {
    if (flags & RUN_DURATION) addRun(sum.pace, 1, view.getUint32(at));
    if (flags & RUN_SIZE) sum.bytes += view.getUint32(at + sizeAt);
  }
}
