import { cannotTell, cut, type Finding, WHOLE } from './finding.ts';
import { count, endsInZeros, fourcc, type Read } from './reading.ts';
import { chunksIn, isOpen, newBudget, readSizes, SIZES_BYTES, type Sizes } from './riff-chunks.ts';

/**
 * WAV and AVI (RIFF) and WAV beyond 4 GB (RF64: EBU Tech 3306; BW64: ITU-R BS.2088). While a recorder runs, the sizes are
 * zero, all ones, or behind the file; afterwards they name its last byte.
 *
 * An AVI may go on in further parts that the first one does not count, so it is never called whole.
 */
export function riffWholeness(read: Read, size: number): Finding {
  const head = read(0, SIZES_BYTES);
  if (head.length < 12) return cut(`the header of a RIFF file is cut off at ${count(size)} bytes`);
  const sizes = readSizes(head);
  if (sizes === null) return cut('the sizes in the header are not written yet: still recording, or broken off');
  const end = 8 + sizes.form;
  if (end > size + 1) return cut(`the header states ${count(end)} bytes, the file has ${count(size)}`);
  if (fourcc(head, 8) !== 'WAVE') {
    return cannotTell(end > size ? 'the last byte is missing' : null);
  }
  return waveWholeness(read, sizes, Math.min(end, size), size);
}

function waveWholeness(read: Read, sizes: Sizes, end: number, size: number): Finding {
  const budget = newBudget();
  for (const { id, start, length } of chunksIn(read, 12, end, sizes.of, budget)) {
    if (id === 'data') return dataWholeness(read, start, length, sizes, size);
  }
  if (budget.left < 0) return cannotTell('more chunks than are looked at');
  return cut('there is no sound (chunk data) inside');
}

function dataWholeness(read: Read, start: number, length: number, sizes: Sizes, size: number): Finding {
  if (isOpen(length)) return cut('the length of the sound is not written yet: still recording, or broken off');
  const last = start + length;
  if (last > size) return cut(`${count(size)} of at least ${count(last)} bytes are there`);
  const end = 8 + sizes.form;
  if (end > size) return cannotTell('the last byte, a filler, is missing');
  if (end < size) return cannotTell(`the header states ${count(end)} bytes, the file has ${count(size)}`);
  if (last > end) return cut(`the sound ends at ${count(last)}, the header says at ${count(end)} bytes`);
  // Chunks behind the sound are written after it.
  if (end - last <= 1 && endsInZeros(read, start, last))
    return cannotTell('the sound ends in zeros: silence, or never written');
  return WHOLE;
}
