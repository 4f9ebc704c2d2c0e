import { ProjectSearch } from '../../src/core/assess/project-search.ts';
import type { MulticamPort } from '../../src/core/multicam-port.ts';
import type { CataloguePort } from '../../src/core/store-ports.ts';

/** A search that is through in one step, and keeps nothing. */
export function fakeMulticam(catalogue: Pick<CataloguePort, 'clips'>): MulticamPort {
  return {
    async step(volume, project) {
      const search = new ProjectSearch({ volume, project });
      for (const clip of await catalogue.clips({ volume, project })) search.put(clip);
      search.settle(Number.POSITIVE_INFINITY);
      const { sessions } = search.nextChanged(Number.POSITIVE_INFINITY);
      return { step: 'found', sessions, gone: [], anew: true, signs: search.signs() };
    },
  };
}
