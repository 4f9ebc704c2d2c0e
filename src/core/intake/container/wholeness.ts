import { extension } from '../path-text.ts';
import { bmffWholeness } from './bmff.ts';
import { dpxWholeness } from './dpx.ts';
import { dvWholeness } from './dv.ts';
import { cannotTell, cut, type Finding, unwritten } from './finding.ts';
import { mxfWholeness } from './mxf.ts';
import { count, type Read } from './reading.ts';
import { riffWholeness } from './riff.ts';
import { beginsMagic, type Sniffed, sniff } from './sniff.ts';
import { blockReader } from './source.ts';

const HEAD_BYTES = 1024;
const MXF_RUN_IN_BYTES = 65_536 + 16;
/** The shortest start that tells the containers apart. */
const TELLING_BYTES = 12;

/** Extensions whose content has a structure that is always recognised: anything else inside is not what the name says. */
const STRUCTURED = new Set(['mov', 'mp4', 'm4v', 'm4a', 'qt', '3gp', 'mxf', 'wav', 'bwf', 'rf64', 'avi', 'dpx']);

/** Extensions of media that have no structure to judge; zeros in place of their first bytes still say "unwritten". */
const UNSTRUCTURED = new Set(['mkv', 'webm', 'mts', 'm2ts', 'm2t', 'ts', 'dv', 'dif', 'mpg', 'mpeg', 'vob']);

/**
 * Whether a file is all there, by its own structure: a few positioned reads of 4 KiB, no essence.
 *
 * `read` must return the bytes asked for up to `size`; whatever it throws passes through, nothing else is thrown.
 * `name` serves to tell "a movie that is something else" from "a file of another kind". `whole` is said only where a
 * file cut short at any byte that matters would be seen as cut.
 */
export function wholeness(read: Read, size: number, name: string): Finding {
  if (size <= 0) return { verdict: 'empty', detail: null };
  const bounded = blockReader(read, size);
  return wholenessAs(recognise(bounded, name), bounded, size, name);
}

/** The same for a file whose container is known, through a reader that stays inside it. */
export function wholenessAs(kind: Sniffed, bounded: Read, size: number, name: string): Finding {
  switch (kind) {
    case 'bmff':
      return bmffWholeness(bounded, size);
    case 'mxf':
      return mxfWholeness(bounded, size);
    case 'riff':
    case 'rf64':
      return riffWholeness(bounded, size);
    case 'dpx':
      return dpxWholeness(bounded, size);
    case 'ebml':
    case 'ts':
      return cannotTell(null);
    case 'dv':
      return dvWholeness(bounded, size);
    case 'zeros':
    case 'text':
    case 'unknown':
      return judgeByName(kind, bounded(0, TELLING_BYTES), size, extension(name));
  }
}

/** The container, by its first bytes; by the name only where to look for one behind a run-in. */
export function recognise(read: Read, name: string): Sniffed {
  const kind = sniff(read(0, HEAD_BYTES));
  if (kind !== 'unknown' && kind !== 'text' && kind !== 'zeros') return kind;
  return extension(name) === 'mxf' && sniff(read(0, MXF_RUN_IN_BYTES)) === 'mxf' ? 'mxf' : kind;
}

function judgeByName(kind: 'zeros' | 'text' | 'unknown', head: Uint8Array, size: number, ending: string): Finding {
  const structured = STRUCTURED.has(ending);
  if (structured && size < TELLING_BYTES && (kind !== 'text' || beginsMagic(head)))
    return cut(size === 1 ? 'it has a single byte' : `it has only ${count(size)} bytes`);
  if (kind === 'zeros' && (structured || UNSTRUCTURED.has(ending))) return unwritten('the file begins with zeros');
  if (!structured) return cannotTell(null);
  const found = kind === 'text' ? 'text' : 'something else';
  return { verdict: 'not-media', detail: `the name ends in .${ending}, the content is ${found}` };
}
