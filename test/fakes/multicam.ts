import { multicamGroups } from '../../src/core/assess/angle-sessions.ts';
import { signsOf } from '../../src/core/assess/project-signs.ts';
import type { MulticamPort } from '../../src/core/multicam-port.ts';
import type { CataloguePort } from '../../src/core/store-ports.ts';

/** A search that is through in one step, and keeps nothing. */
export function fakeMulticam(catalogue: Pick<CataloguePort, 'clips'>): MulticamPort {
  return {
    async step(volume, project) {
      const clips = await catalogue.clips({ volume, project });
      return { step: 'found', groups: multicamGroups(clips), signs: signsOf(clips, { volume, project }) };
    },
  };
}
