import { cannotTell, cut, type Finding, WHOLE } from './finding.ts';
import { count, endsInZeros, fourcc, type Read, u32be, u32le } from './reading.ts';

const UNDEFINED = 0xffff_ffff;

/**
 * DPX, SMPTE ST 268: the header states where the image begins (byte 4) and how long the file is (byte 16), big-endian
 * after the magic `SDPX`, little-endian after `XPDS`.
 */
export function dpxWholeness(read: Read, size: number): Finding {
  const head = read(0, 20);
  if (head.length < 20) return cut(`the header of a DPX frame is cut off at ${count(size)} bytes`);
  const field = fourcc(head, 0) === 'SDPX' ? u32be : u32le;
  const image = field(head, 4);
  const stated = field(head, 16);
  if (image >= size && image !== UNDEFINED) {
    return cut(`the picture begins at byte ${count(image)} of ${count(size)}`);
  }
  if (stated === 0 || stated === UNDEFINED) return cannotTell('the header does not state the length of the file');
  if (stated > size) return cut(`the frame has ${count(size)} of ${count(stated)} bytes`);
  if (stated < size) return cannotTell(`the header states ${count(stated)} bytes, the file has ${count(size)}`);
  if (image === UNDEFINED || !endsInZeros(read, image, size)) return WHOLE;
  return cannotTell('the picture ends in zeros: black, or never written');
}
