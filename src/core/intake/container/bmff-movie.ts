import { type Box, type Walk, walkBoxes } from './bmff-boxes.ts';
import { type Fragments, fragmentCounter } from './bmff-fragments.ts';
import { find, type Part, partsOf, readPart, type Tell } from './bmff-parts.ts';
import { readTrak, type Trak } from './bmff-trak.ts';
import { count, type Read } from './reading.ts';

/** The index (`moov`), read as one block. */
export interface MovieIndex {
  /** The boxes in it. */
  parts: Part[];
  traks: Trak[];
  /** Further samples lie in movie fragments (an `mvex` box). */
  extended: boolean;
}

/** A QuickTime or MP4 file, opened: its boxes, its index, the sums of its fragments. */
export interface Movie {
  walk: Walk;
  /** The first index that is all there. */
  moov: Box | null;
  /** `null`: there is none, or it is too large. */
  index: MovieIndex | null;
  fragments: Fragments;
  troubles: string[];
}

/** An index of this size describes days of footage; above it nothing is claimed. */
const MAX_INDEX_BYTES = 67_108_864;

const MAX_TRACKS = 128;

/** A damaged file may have as many faults as it has boxes. */
const MAX_TROUBLES = 16;

/** Walks a file once: one read for the index, and one for each movie fragment and what lies behind it. */
export function openMovie(read: Read, size: number): Movie {
  const troubles: string[] = [];
  const tell = tellInto(troubles);
  let moov: Box | null = null;
  let index: MovieIndex | null = null;
  let counter = fragmentCounter([], new Map(), tell);
  const walk = walkBoxes(read, size, (box) => {
    if (box.type === 'moof') counter.add(read, box);
    if (box.type !== 'moov' || moov !== null) return;
    moov = box;
    index = readIndex(read, box, tell);
    if (index === null) return;
    const timescales = new Map(index.traks.map((trak) => [trak.id, trak.timescale]));
    // Fragments in front of the index (clause 8.8.4 puts it first) were counted without its clocks: not at all, that is.
    const uncounted = counter.fragments.seen > 0;
    counter = fragmentCounter(index.parts, timescales, tell);
    counter.fragments.lost = uncounted;
  });
  return { walk, moov, index, fragments: counter.fragments, troubles };
}

/** Adds troubles to a list, each once, and not without end. */
export function tellInto(troubles: string[]): Tell {
  return (trouble) => {
    if (troubles.length > MAX_TROUBLES || troubles.includes(trouble)) return;
    troubles.push(troubles.length < MAX_TROUBLES ? trouble : 'more faults than are told');
  };
}

function readIndex(read: Read, moov: Box, tell: Tell): MovieIndex | null {
  if (moov.end - moov.content > MAX_INDEX_BYTES) {
    tell(`the index of ${count(moov.end - moov.content)} bytes is larger than is looked at`);
    return null;
  }
  // With the header of the box behind it, which the walk comes to next.
  const block = readPart(read, 'moov', moov.content, moov.end + 16);
  const parts = partsOf({ ...block, end: Math.min(block.end, moov.end - moov.content) }, tell);
  const traks = parts.filter((part) => part.type === 'trak');
  if (traks.length > MAX_TRACKS) tell(`${count(traks.length)} tracks: only the first ${MAX_TRACKS} are looked at`);
  return {
    parts,
    traks: traks.slice(0, MAX_TRACKS).map((trak) => readTrak(trak, tell)),
    extended: find(parts, 'mvex') !== null,
  };
}
