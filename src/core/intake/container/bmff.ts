import type { Box, Walk } from './bmff-boxes.ts';
import { type Movie, openMovie } from './bmff-movie.ts';
import { chunkOffset } from './bmff-samples.ts';
import type { Trak } from './bmff-trak.ts';
import { cannotTell, cut, type Finding, unwritten, WHOLE } from './finding.ts';
import { allZero, count, endsInZeros, type Read, TAIL_BYTES, u32be } from './reading.ts';

/**
 * QuickTime and MP4 (ISO/IEC 14496-12): the boxes must tile the file to its last byte, hold an index (`moov`) and media
 * data (`mdat`), every track's last chunk must lie inside, and the media data must have been written up to their end.
 *
 * What it cannot see: a cut exactly behind a box that the index does not need (a trailing `free`), which loses nothing;
 * and silence at the end of a file with its index in front, which looks like room never written ("no-structure" then).
 */
export function bmffWholeness(read: Read, size: number, movie: Movie = openMovie(read, size)): Finding {
  const { walk, moov, index } = movie;
  const broken = brokenEnd(walk, size, moov !== null && hasMedia(walk.boxes));
  if (broken !== null) return broken;
  if (moov === null) return cut('there is no index (box moov): not yet written, or cut off');
  if (!hasMedia(walk.boxes)) return cut('there is an index but no media data (box mdat)');
  if (index === null)
    return cannotTell(`the index of ${count(moov.end - moov.start)} bytes is larger than is looked at`);
  const last = Math.max(...index.traks.map((trak) => lastChunk(trak) ?? 0));
  if (last >= size) return cut(`the index names media data at byte ${count(last)} of ${count(size)}`);
  if (walk.boxes.some((box) => box.type === 'moof')) return fragmentsWholeness(read, walk.boxes, size);
  if (index.extended) return cut('the index announces movie fragments and there are none');
  return mediaWritten(read, walk.boxes, moov, index.traks);
}

/** Where the last chunk of media data begins; `null`: there is none, or they lie in other files. */
function lastChunk(trak: Trak): number | null {
  return trak.outside ? null : chunkOffset(trak, 'last');
}

function hasMedia(boxes: readonly Box[]): boolean {
  return boxes.some((box) => box.type === 'mdat');
}

/** What a walk that did not end at the last byte says; `null` when it did. */
function brokenEnd(walk: Walk, size: number, playable: boolean): Finding | null {
  const last = walk.boxes.at(-1);
  switch (walk.ended) {
    case 'end':
      return null;
    case 'past-end':
      return cut(`${count(size)} of at least ${count(last?.end ?? 0)} bytes are there`);
    case 'stub':
      return cut(`a box header is cut off at byte ${count(walk.at)}`);
    case 'zeros':
      return unwritten(`there are zeros where a box should begin, at byte ${count(walk.at)} of ${count(size)}`);
    case 'no-box': {
      const where = `what begins at byte ${count(walk.at)} of ${count(size)} is no box`;
      return playable ? cannotTell(where) : cut(where);
    }
    case 'too-many':
      return cannotTell('more boxes than are looked at');
  }
}

/** An index in front says nothing about how far the media data were written: their end, and the last picture, do. */
function mediaWritten(read: Read, boxes: readonly Box[], moov: Box, traks: readonly Trak[]): Finding {
  const mdat = boxes.findLast((box) => box.type === 'mdat');
  if (mdat === undefined || moov.start > mdat.start) return WHOLE;
  if (mdat.open) return cannotTell('the media data (box mdat) state no end');
  if (!endsInZeros(read, mdat.content, mdat.end)) return WHOLE;
  const pictures = traks.filter((trak) => trak.handler === 'vide').map(lastChunk);
  const missing = pictures.some((chunk) => chunk !== null && startsInZeros(read, chunk, mdat.end));
  if (missing || traks.length === 0) {
    return unwritten(`room was reserved, but the media data end in zeros before byte ${count(mdat.end)}`);
  }
  return cannotTell('the media data end in zeros: silence, or never written');
}

function startsInZeros(read: Read, start: number, end: number): boolean {
  return allZero(read(start, Math.max(0, Math.min(TAIL_BYTES, end - start))));
}

/**
 * Fragments are complete in themselves, so a missing one leaves no trace: only the table of fragments at the end of the
 * file (`mfra` with `mfro`, clause 8.8.9), which a writer adds when it is through, proves that all are there.
 */
function fragmentsWholeness(read: Read, boxes: readonly Box[], size: number): Finding {
  const fragment = boxes.findLastIndex((box) => box.type === 'moof');
  const data = boxes.slice(fragment).find((box) => box.type === 'mdat');
  if (data === undefined) return cut('the last movie fragment has no media data');
  const table = boxes.at(-1);
  if (table?.type !== 'mfra') return cannotTell('movie fragments without a table of them at the end');
  const stated = u32be(read(size - 4, 4), 0);
  if (stated !== table.end - table.start) return cannotTell('the table of movie fragments states another length');
  if (!data.open && endsInZeros(read, data.content, data.end)) {
    return cannotTell('the last fragment ends in zeros: silence, or never written');
  }
  return WHOLE;
}
