import { indexedBytes, partsEnd } from './avi-index.ts';
import { type AviStream, contentOf, readStream } from './avi-stream.ts';
import { type AviHeader, streamTracks } from './avi-tracks.ts';
import { count, fourcc, type Read, u32le } from './reading.ts';
import { type Budget, type Chunk, type Form, isOpen, namedChunks, newBudget, type Sizes } from './riff-chunks.ts';
import { NO_TIES, type Structure, type StructureTrack } from './structure.ts';

/** Chunks of a stream are named by two digits. */
const MAX_STREAMS = 100;

/** The header of a further part: `RIFF`, length, `AVIX`. */
const FURTHER_BYTES = 12;

/** Up to the raster. */
const AVI_HEADER_BYTES = 40;

interface Parts {
  header: AviHeader;
  streams: AviStream[];
  /** `idx1`, which lists the chunks of the first part. */
  index: Chunk | null;
}

/**
 * What an AVI tells, also one that goes on in further parts (OpenDML AVI File Format Extensions 1.02): main header, stream
 * headers, and the bytes of picture where an index that is short enough lists all of them.
 */
export function aviStructure(read: Read, size: number, form: Form, troubles: string[]): Structure {
  const { header, streams, index } = partsOf(read, form, troubles);
  if (streams.length === 0) troubles.push('there is no stream header inside');
  const isPicture = ({ type }: AviStream) => type === 'vids' || type === 'iavs';
  const end = Math.max(0, ...streams.filter(isPicture).map((stream) => partsEnd(read, stream)));
  if (end > size) troubles.push(`the file goes on to byte ${count(end)}, and has ${count(size)}`);
  const complete = form.complete && end <= size;
  const whole = size - form.end < FURTHER_BYTES ? index : null;
  const tracks = streams.flatMap((stream): StructureTrack[] => {
    const counted = complete && isPicture(stream) ? indexedBytes(read, size, stream, whole, troubles) : null;
    return streamTracks(stream, header, complete, counted, troubles);
  });
  const nothing = { timecodes: [], reel: null, camera: null, createdAt: null, ties: NO_TIES };
  return { container: 'AVI', tracks, ...nothing, troubles };
}

function partsOf(read: Read, form: Form, troubles: string[]): Parts {
  const budget = newBudget();
  const top = topChunks(read, form, budget, troubles);
  const inside = (list: Chunk, kind: string) => chunksOf(read, list, kind, form.end, budget, troubles);
  const header = top.flatMap((chunk) => inside(chunk, 'hdrl'));
  const lists = header.map((chunk) => inside(chunk, 'strl')).filter((chunks) => chunks.length > 0);
  const main = contentOf(read, header, 'avih', AVI_HEADER_BYTES);
  const extended = header.flatMap((chunk) => inside(chunk, 'odml'));
  return {
    header: {
      width: u32le(main, 32),
      height: u32le(main, 36),
      totalFrames: u32le(contentOf(read, extended, 'dmlh', 4), 0),
    },
    streams: lists.slice(0, MAX_STREAMS).map((chunks, number) => readStream(read, number, chunks)),
    index: top.find(({ id }) => id === 'idx1') ?? null,
  };
}

const own: Sizes['of'] = (_, length) => length;

/** Up to the first that has no length yet or goes beyond the end: what follows is inside of it. */
function topChunks(read: Read, form: Form, budget: Budget, troubles: string[]): Chunk[] {
  const chunks: Chunk[] = [];
  for (const chunk of namedChunks(read, 12, form.end, own, budget, troubles)) {
    chunks.push(chunk);
    const open = chunk.id === 'LIST' && isOpen(chunk.length);
    if (!open && chunk.start + chunk.length <= form.end + 1) continue;
    if (form.complete) troubles.push('the length of a list is not written, or more than there is');
    break;
  }
  return chunks;
}

/** The chunks of a list of this kind; none of any other chunk. */
function chunksOf(read: Read, list: Chunk, kind: string, end: number, budget: Budget, troubles: string[]): Chunk[] {
  if (list.id !== 'LIST' || list.length < 4 || fourcc(read(list.start, 4), 0) !== kind) return [];
  return [...namedChunks(read, list.start + 4, Math.min(list.start + list.length, end), own, budget, troubles)];
}
