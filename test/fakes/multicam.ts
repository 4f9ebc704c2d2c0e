import { findMulticam } from '../../src/core/assess/multicam.ts';
import { signsOf } from '../../src/core/assess/project-signs.ts';
import { spansOf } from '../../src/core/assess/spans.ts';
import type { MulticamPort } from '../../src/core/multicam-port.ts';
import type { CataloguePort } from '../../src/core/store-ports.ts';

/** A search that is through in one step, and keeps nothing. */
export function fakeMulticam(catalogue: Pick<CataloguePort, 'clips'>): MulticamPort {
  return {
    async step(volume, project) {
      const clips = await catalogue.clips({ volume, project });
      return { step: 'found', groups: findMulticam(spansOf(clips)), signs: signsOf(clips, { volume, project }) };
    },
  };
}
