import { multicamGroups } from '../../src/core/assess/angle-sessions.ts';
import { withProxies } from '../../src/core/assess/group-proxies.ts';
import { signsOf } from '../../src/core/assess/project-signs.ts';
import type { MulticamPort } from '../../src/core/multicam-port.ts';
import type { CataloguePort } from '../../src/core/store-ports.ts';

/** A search that is through in one step, and keeps nothing. */
export function fakeMulticam(catalogue: Pick<CataloguePort, 'clips'>): MulticamPort {
  return {
    async step(volume, project) {
      const clips = await catalogue.clips({ volume, project });
      return {
        step: 'found',
        groups: withProxies(multicamGroups(clips), clips, project),
        signs: signsOf(clips, { volume, project }),
      };
    },
  };
}
