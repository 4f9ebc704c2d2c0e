import { cannotTell, cut, type Finding, WHOLE } from './finding.ts';
import { count, endsInZeros, fourcc, MAX_PARTS, type Read, u32le, u64le } from './reading.ts';

/** A 32-bit size that is not yet, or not here, given: 0 or all ones. */
function isOpen(size: number): boolean {
  return size === 0 || size === 0xffff_ffff;
}

/** Sizes as they hold: the chunk's own, or for RF64 those of the `ds64` chunk. */
interface Sizes {
  /** Of the whole form, without its first 8 bytes. */
  form: number;
  data: (own: number) => number;
}

/**
 * WAV and AVI (RIFF) and WAV beyond 4 GB (RF64: EBU Tech 3306; BW64: ITU-R BS.2088). While a recorder runs, the sizes are
 * zero, all ones, or behind the file; afterwards they name its last byte.
 *
 * An AVI may go on in further parts that the first one does not count, so it is never called whole.
 */
export function riffWholeness(read: Read, size: number): Finding {
  const head = read(0, 36);
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

function readSizes(head: Uint8Array): Sizes | null {
  const form = u32le(head, 4);
  if (fourcc(head, 0) === 'RIFF') return isOpen(form) ? null : { form, data: (own) => own };
  if (head.length < 36 || fourcc(head, 12) !== 'ds64') return null;
  const long = u64le(head, 20);
  const data = u64le(head, 28);
  return long === 0 ? null : { form: long, data: (own) => (own === 0xffff_ffff ? data : own) };
}

function waveWholeness(read: Read, sizes: Sizes, end: number, size: number): Finding {
  let at = 12;
  for (let chunk = 0; at + 8 <= end && chunk < MAX_PARTS; chunk += 1) {
    const head = read(at, 8);
    const own = u32le(head, 4);
    const length = fourcc(head, 0) === 'data' ? sizes.data(own) : own;
    if (fourcc(head, 0) === 'data') return dataWholeness(read, at + 8, length, sizes, size);
    at += 8 + length + (length % 2);
  }
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
