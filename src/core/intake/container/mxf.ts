import { cannotTell, cut, type Finding, unwritten, WHOLE } from './finding.ts';
import { KEY_BYTES } from './mxf-klv.ts';
import { findRandomIndex, type RandomIndex, readPartition } from './mxf-partition.ts';
import { count, endsInZeros, type Read } from './reading.ts';
import { headerPartitionAt } from './sniff.ts';

const FOOTER = 4;

/** Where the header partition begins, behind a run-in or not; `null`: there is none. */
export function headerStart(read: Read): number | null {
  return headerPartitionAt(read(0, 512)) ?? headerPartitionAt(read(0, 65_536 + KEY_BYTES));
}

/**
 * MXF (SMPTE ST 377-1). Whole: the file ends in a random index pack whose last entry leads to a footer partition that
 * fits in front of it. A writer makes both when it is through, and any cut at the end removes or breaks the pack.
 *
 * The pack is optional: with a complete footer and no pack behind it the answer is "cannot tell", since a cut exactly
 * between the two looks the same.
 */
export function mxfWholeness(read: Read, size: number): Finding {
  const runIn = headerStart(read);
  if (runIn === null) return cut('the header partition is cut off');
  const header = readPartition(read, runIn, size);
  if (header === null) return cut('the header partition is cut off');
  const pack = findRandomIndex(read, size);
  if (pack !== null) return judgeRandomIndex(read, pack, runIn);
  if (header.footer > 0) return judgeFooter(read, runIn + header.footer, size);
  if (endsInZeros(read, 0, size)) return unwritten('room was reserved, but the file ends in zeros');
  if (header.status === 1 || header.status === 3) {
    return cut('the header partition is still open and no footer follows: still recording, or broken off');
  }
  return cannotTell('the file names no footer partition and has no random index pack');
}

function judgeRandomIndex(read: Read, pack: RandomIndex, runIn: number): Finding {
  const at = runIn + pack.last;
  const footer = at < pack.start ? readPartition(read, at, pack.start) : null;
  if (footer === null) return cut(`the random index pack names a partition at byte ${count(at)}, and there is none`);
  if (footer.kind !== FOOTER) return cannotTell('the last partition is no footer');
  if (footer.end > pack.start) return cut('the footer partition does not fit in front of the random index pack');
  return WHOLE;
}

function judgeFooter(read: Read, at: number, size: number): Finding {
  if (at >= size) {
    return endsInZeros(read, 0, size)
      ? unwritten(`it ends in zeros where its last part belongs, from byte ${count(at)} on`)
      : cut(`${count(size)} of more than ${count(at)} bytes are there`);
  }
  const footer = readPartition(read, at, size);
  if (footer === null) {
    return endsInZeros(read, at, size)
      ? unwritten(`there are zeros where the footer belongs, at byte ${count(at)}`)
      : cut(`the footer at byte ${count(at)} is cut off or damaged`);
  }
  if (footer.end > size) return cut(`${count(size)} of at least ${count(footer.end)} bytes are there`);
  if (footer.end < size) return cut('what follows the footer is no complete random index pack');
  return cannotTell('the footer is there, but no random index pack behind it');
}
