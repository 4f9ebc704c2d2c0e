import { fourcc, type Read, u32le } from './reading.ts';
import type { Chunk } from './riff-chunks.ts';

/** Headers of one stream: `strh`, `strf`, and what OpenDML adds. */
export interface AviStream {
  number: number;
  /** `vids`, `auds`, `txts`, `mids`, or `iavs`: DV with its sound inside. */
  type: string;
  handler: string;
  /** Units a second are rate / scale. */
  scale: number;
  rate: number;
  /** In units: frames of picture, blocks of sound. */
  length: number;
  /** Bytes of a unit; 0: they vary. */
  unitBytes: number;
  /** `strf`: BITMAPINFOHEADER, WAVEFORMATEX or DVINFO. */
  format: Uint8Array;
  /** `vprp`, video properties (OpenDML clause 5). */
  properties: Uint8Array;
  /** `indx`: where the indexes of the parts are (OpenDML clause 3). */
  superIndex: Chunk | null;
}

const HEADER_BYTES = 56;
const FORMAT_BYTES = 64;
const PROPERTIES_BYTES = 36;

export function readStream(read: Read, number: number, chunks: readonly Chunk[]): AviStream {
  const content = (id: string, most: number) => contentOf(read, chunks, id, most);
  const header = content('strh', HEADER_BYTES);
  return {
    number,
    type: fourcc(header, 0),
    handler: fourcc(header, 4),
    scale: u32le(header, 20),
    rate: u32le(header, 24),
    length: u32le(header, 32),
    unitBytes: u32le(header, 44),
    format: content('strf', FORMAT_BYTES),
    properties: content('vprp', PROPERTIES_BYTES),
    superIndex: chunks.find(({ id }) => id === 'indx') ?? null,
  };
}

/** The first bytes of the chunk with this name; none where there is no such chunk. */
export function contentOf(read: Read, chunks: readonly Chunk[], id: string, most: number): Uint8Array {
  const chunk = chunks.find((one) => one.id === id);
  return chunk === undefined ? new Uint8Array(0) : read(chunk.start, Math.min(chunk.length, most));
}
