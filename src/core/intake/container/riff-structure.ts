import { aviStructure } from './avi.ts';
import { count, fourcc, type Read } from './reading.ts';
import { type Form, readSizes, SIZES_BYTES } from './riff-chunks.ts';
import { NO_TIES, type Structure } from './structure.ts';
import { waveStructure } from './wave.ts';

/**
 * What the structure of a RIFF file tells: WAV, Broadcast Wave, RF64, BW64 and AVI, no essence but what shares a block with
 * it. Any other form is named as one that is not read. Throws nothing but what `read` throws.
 * @param read as `blockReader` makes it: stays inside the file, answers small steps from what was read before
 */
export function riffStructure(read: Read, size: number): Structure {
  const head = read(0, SIZES_BYTES);
  const troubles: string[] = [];
  const form = formOf(head, size, troubles);
  switch (fourcc(head, 8)) {
    case 'WAVE':
      return waveStructure(read, size, form, troubles);
    case 'AVI ':
      return aviStructure(read, size, form, troubles);
    default:
      troubles.push('a RIFF file of a form that is not read');
      return { ...NOTHING, container: 'RIFF', troubles };
  }
}

const NOTHING: Omit<Structure, 'container' | 'troubles'> = {
  tracks: [],
  timecodes: [],
  reel: null,
  camera: null,
  createdAt: null,
  ties: NO_TIES,
};

/** A form without sizes yet is walked by its chunks' own up to the end of the file. */
function formOf(head: Uint8Array, size: number, troubles: string[]): Form {
  const sizes = readSizes(head);
  if (sizes === null) {
    troubles.push('the sizes in the header are not written');
    return { sizes: { form: size - 8, samples: null, of: (_, own) => own }, end: size, complete: false };
  }
  const end = 8 + sizes.form;
  // The last byte may be a filler.
  const complete = end <= size + 1;
  if (!complete) troubles.push(`the header states ${count(end)} bytes, the file has ${count(size)}`);
  return { sizes, end: Math.min(end, size), complete };
}
