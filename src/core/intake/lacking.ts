import type { Clip } from '../model.ts';

/** Whether parts or frames of a clip are known to be missing. */
export function isLacking({
  missingFrames,
  missingParts,
  missingNames,
}: Pick<Clip, 'missingFrames' | 'missingParts' | 'missingNames'>): boolean {
  return missingFrames.length + missingParts.length + missingNames.length > 0;
}
