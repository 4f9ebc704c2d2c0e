import type { Instant, PathText } from '../model.ts';

const LONGEST_NAME_BYTES = 255;
const FOLDER = 'ascmhl';
const NAME = /^(\d{4,})_(.+)\.mhl$/s;
const encoder = new TextEncoder();

/** Where the manifests of a history lie, below its root. */
export const HISTORY_FOLDER = FOLDER;
export const CHAIN_FILE = 'ascmhl_chain.xml';

/**
 * `NNNN_<root>_YYYY-MM-DD_HHMMSSZ.mhl` (specification, 6.3). A root name that would make it longer than a file's name may
 * be is cut after its last whole character that fits; a file system's own root has none and is called `root`.
 * @param number of the generation, from 1
 * @param root name of the folder that holds `ascmhl`, as plain text
 * @param startedAt when the operation began: all histories that it writes share it
 */
export function manifestName(number: number, root: string, startedAt: Instant): string {
  const [date = '', time = ''] = Temporal.Instant.fromEpochMilliseconds(Math.trunc(startedAt))
    .toString({ smallestUnit: 'second' })
    .split('T');
  const before = `${String(number).padStart(4, '0')}_`;
  const after = `_${date}_${time.replaceAll(':', '')}.mhl`;
  const room = LONGEST_NAME_BYTES - before.length - after.length;
  return `${before}${cut(root === '' ? 'root' : root, room)}${after}`;
}

/** Number of the generation that a name of a history's folder tells; `null` when it is no manifest's name. */
export function generationNumber(name: PathText): number | null {
  const digits = NAME.exec(name)?.[1];
  const number = digits === undefined ? 0 : Number(digits);
  return number >= 1 && Number.isSafeInteger(number) ? number : null;
}

function cut(text: string, most: number): string {
  if (encoder.encode(text).length <= most) return text;
  let kept = '';
  let bytes = 0;
  for (const character of text) {
    bytes += encoder.encode(character).length;
    if (bytes > most) break;
    kept += character;
  }
  return kept;
}
