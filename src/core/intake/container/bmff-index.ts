import { type Box, walkBoxes } from './bmff-boxes.ts';
import { fourcc, MAX_PARTS, type Read, u32be, u64be } from './reading.ts';

/** What is needed of one track to know whether its media data can be there. */
export interface Track {
  /** `vide`, `soun`, `tmcd`, ...; empty when unknown. */
  handler: string;
  /** Where its last chunk of media data begins; `null`: it has none, or they lie in other files. */
  lastChunk: number | null;
}

export interface MovieIndex {
  tracks: Track[];
  /** Further samples lie in movie fragments (an `mvex` box). */
  fragmented: boolean;
}

const MAX_TRACKS = 128;

/** Reads the last chunk offset of each track out of a complete `moov` box: a dozen reads of 16 bytes for each track. */
export function readMovieIndex(read: Read, moov: Box): MovieIndex {
  const parts = walkBoxes(read, moov.content, moov.end).boxes;
  const tracks = parts
    .filter((box) => box.type === 'trak' && box.end <= moov.end)
    .slice(0, MAX_TRACKS)
    .map((trak) => readTrack(read, trak));
  return { tracks, fragmented: parts.some((box) => box.type === 'mvex') };
}

function readTrack(read: Read, trak: Box): Track {
  const media = child(read, trak, 'mdia');
  const information = child(read, media, 'minf');
  const handler = child(read, media, 'hdlr');
  const table = child(read, information, 'stbl');
  const data = child(read, child(read, information, 'dinf'), 'dref');
  return {
    handler: handler === null ? '' : fourcc(read(handler.content + 8, 4), 0),
    lastChunk: data !== null && !isSelfContained(read, data) ? null : readLastChunk(read, table),
  };
}

/** ISO/IEC 14496-12 clause 8.7.5: entries of 32-bit (`stco`) or 64-bit (`co64`) file offsets behind a count. */
function readLastChunk(read: Read, table: Box | null): number | null {
  const chunks = child(read, table, 'stco') ?? child(read, table, 'co64');
  if (chunks === null) return null;
  const width = chunks.type === 'stco' ? 4 : 8;
  const entries = u32be(read(chunks.content + 4, 4), 0);
  const last = chunks.content + 8 + (entries - 1) * width;
  if (entries === 0 || last + width > chunks.end) return null;
  const entry = read(last, width);
  return width === 4 ? u32be(entry, 0) : u64be(entry, 0);
}

/** Clause 8.7.2: flag 1 of the first entry says that the media data are in this very file. */
function isSelfContained(read: Read, dref: Box): boolean {
  return ((read(dref.content + 8 + 11, 1)[0] ?? 1) & 1) === 1;
}

function child(read: Read, parent: Box | null, type: string): Box | null {
  if (parent === null) return null;
  const { boxes } = walkBoxes(read, parent.content, parent.end, MAX_PARTS / 10);
  return boxes.find((box) => box.type === type && box.end <= parent.end) ?? null;
}
