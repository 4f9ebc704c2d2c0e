import type { Clip } from '../model.ts';

/** Whether parts or frames of a clip are known to be missing. */
export function isLacking({
  missingFrames,
  missingParts,
  missingNames,
}: Pick<Clip, 'missingFrames' | 'missingParts' | 'missingNames'>): boolean {
  return missingFrames.length + missingParts.length + missingNames.length > 0;
}

/** Whether nothing could be read of a clip that moves or sounds: stills are not read here. */
export function isUndecoded({ state, kind }: Pick<Clip, 'state' | 'kind'>): boolean {
  return state === 'not-decoded' && kind !== 'still';
}
