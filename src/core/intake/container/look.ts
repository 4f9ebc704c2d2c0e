import { bmffWholeness } from './bmff.ts';
import { openMovie } from './bmff-movie.ts';
import { bmffStructure } from './bmff-structure.ts';
import { dpxStructure } from './dpx-structure.ts';
import { mxfStructure } from './mxf-structure.ts';
import type { Read } from './reading.ts';
import { riffStructure } from './riff-structure.ts';
import type { Sniffed } from './sniff.ts';
import { blockReader } from './source.ts';
import type { HeaderLook, Structure } from './structure.ts';
import { recognise, wholenessAs } from './wholeness.ts';

/**
 * Whether a file is all there, and what its own structure tells of it, in a handful of positioned reads that touch no essence.
 *
 * `read` must return the bytes asked for up to `size`; whatever it throws passes through, nothing else is thrown.
 */
export function headerLook(read: Read, size: number, name: string): HeaderLook {
  if (size <= 0) return { finding: { verdict: 'empty', detail: null }, structure: null };
  const bounded = blockReader(read, size);
  const kind = recognise(bounded, name);
  if (kind === 'bmff') {
    // Opened once for both: its boxes lie all over the file.
    const movie = openMovie(bounded, size);
    return { finding: bmffWholeness(bounded, size, movie), structure: bmffStructure(bounded, size, movie) };
  }
  const finding = wholenessAs(kind, bounded, size, name);
  return { finding, structure: structureAs(kind, bounded, size) };
}

function structureAs(kind: Sniffed, bounded: Read, size: number): Structure | null {
  switch (kind) {
    case 'mxf':
      return mxfStructure(bounded, size);
    case 'riff':
    case 'rf64':
      return riffStructure(bounded, size);
    case 'dpx':
      return dpxStructure(bounded, size);
    default:
      return null;
  }
}
