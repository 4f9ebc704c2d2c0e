import type { FragmentSum } from './bmff-fragments.ts';
import { addRun, joinPaces, newPace, type Pace } from './bmff-pace.ts';
import { entriesOf, find, type Part, type Tell, u8, u32, u64 } from './bmff-parts.ts';
import type { Trak } from './bmff-trak.ts';

/** What the sample tables of one track and its movie fragments come to. */
export interface Samples {
  /** `null`: not known. */
  count: number | null;
  bytes: number | null;
  /** Size that the table states for all samples alike; 0: each has its own. */
  each: number;
  /** Length of all samples in ticks of the media clock. */
  ticks: number | null;
  pace: Pace;
}

interface Sizes {
  count: number | null;
  bytes: number | null;
  each: number;
}

/**
 * Adds up a track.
 * @param fragments what the movie fragments add to it; `null`: nothing
 * @param complete whether all there are were counted; if not, only the rate is known
 */
export function samplesOf(trak: Trak, fragments: FragmentSum | null, complete: boolean, tell: Tell): Samples {
  const sizes = readSizes(find(trak.tables, 'stsz') ?? find(trak.tables, 'stz2'), tell);
  const table = readPace(find(trak.tables, 'stts'), trak.timescale, tell);
  const pace = fragments === null ? table : joinPaces(table, fragments.pace);
  if (!complete) return { count: null, bytes: null, each: sizes.each, ticks: null, pace };
  if (fragments === null) return { ...sizes, ticks: tableTicks(trak, sizes.count, pace, tell), pace };
  return {
    count: sizes.count === null ? null : sizes.count + fragments.pace.samples,
    bytes: sizes.bytes === null ? null : sizes.bytes + fragments.bytes,
    each: 0,
    ticks: Number.isSafeInteger(pace.ticks) ? pace.ticks : null,
    pace,
  };
}

/** The table of times where it covers every sample, else what the media header states. */
function tableTicks(trak: Trak, count: number | null, pace: Pace, tell: Tell): number | null {
  if (pace.samples === 0) return trak.ticks;
  if (count === null || count === pace.samples) return Number.isSafeInteger(pace.ticks) ? pace.ticks : trak.ticks;
  tell(`a track has times for ${pace.samples} samples and sizes for ${count}`);
  return trak.ticks;
}

/** ISO/IEC 14496-12 clause 8.6.1.2: runs of samples of one length. */
function readPace(stts: Part | null, timescale: number, tell: Tell): Pace {
  const pace = newPace(timescale);
  if (stts === null) return pace;
  const entries = entriesOf(stts, 8, u32(stts, 4), 8, tell);
  const { view, from } = stts;
  let run = 0;
  let delta = 0;
  // Neighbours of one length are one run, however they are written.
  for (let at = from + 8, last = at + entries * 8; at < last; at += 8) {
    const next = view.getUint32(at + 4);
    if (next !== delta) {
      addRun(pace, run, delta);
      run = 0;
      delta = next;
    }
    run += view.getUint32(at);
  }
  addRun(pace, run, delta);
  return pace;
}

/** Clause 8.7.3: one size for all, a list of 32-bit sizes (`stsz`), or one of 4, 8 or 16 bits (`stz2`). */
function readSizes(table: Part | null, tell: Tell): Sizes {
  if (table === null) return { count: null, bytes: null, each: 0 };
  const count = u32(table, 8);
  const compact = table.type === 'stz2';
  const each = compact ? 0 : u32(table, 4);
  if (each > 0) return { count, bytes: count * each, each };
  const bits = compact ? u8(table, 7) : 32;
  if (bits !== 32 && bits !== 16 && bits !== 8 && bits !== 4) {
    tell(`table stz2 has sizes of ${bits} bits`);
    return { count: null, bytes: null, each };
  }
  if (entriesOf(table, 12, count, bits / 8, tell) !== count) return { count: null, bytes: null, each };
  return { count, bytes: bits === 4 ? sumNibbles(table, count) : sumSizes(table, count, bits), each };
}

function sumSizes(table: Part, count: number, bits: 32 | 16 | 8): number {
  const { view } = table;
  const first = table.from + 12;
  let sum = 0;
  if (bits === 32) for (let at = first, end = first + count * 4; at < end; at += 4) sum += view.getUint32(at);
  else if (bits === 16) for (let at = first, end = first + count * 2; at < end; at += 2) sum += view.getUint16(at);
  else for (let at = first, end = first + count; at < end; at += 1) sum += view.getUint8(at);
  return sum;
}

/** Two sizes in a byte, the first in its upper half. */
function sumNibbles(table: Part, count: number): number {
  let sum = 0;
  const first = table.from + 12;
  for (let at = first, end = first + Math.floor(count / 2); at < end; at += 1) {
    const pair = table.view.getUint8(at);
    sum += (pair >> 4) + (pair & 15);
  }
  return count % 2 === 0 ? sum : sum + (u8(table, 12 + Math.floor(count / 2)) >> 4);
}

/** Clause 8.7.5: file offset of the first or the last chunk; `null` where there is none. */
export function chunkOffset(trak: Trak, which: 'first' | 'last'): number | null {
  const table = find(trak.tables, 'stco') ?? find(trak.tables, 'co64');
  if (table === null) return null;
  const width = table.type === 'stco' ? 4 : 8;
  const entries = u32(table, 4);
  if (entries === 0 || 8 + entries * width > table.end - table.from) return null;
  const at = which === 'first' ? 8 : 8 + (entries - 1) * width;
  return width === 4 ? u32(table, at) : u64(table, at);
}
