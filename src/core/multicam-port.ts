import type { MulticamGroup } from './assess/assessment.ts';
import type { ProjectSigns } from './assess/project-signs.ts';

/**
 * How far a search has come. `current`: the groups that are kept still hold; `earlier`: groups from before the clips
 * changed, good until the search is through; `more`: to be asked again; `groups`: they are found, what else the clips show is not
 * yet; `found`: through.
 */
export type SearchStep = 'current' | 'earlier' | 'more' | 'groups' | 'found';

/** `signs`: what else the clips show; with the groups, `null` where they are not told. */
export interface SearchAnswer {
  step: SearchStep;
  groups: MulticamGroup[];
  signs: ProjectSigns | null;
}

/** The catalogue's search for multicam groups: over all clips of a project, which may be many. */
export interface MulticamPort {
  /**
   * One short step of the search in a project; to be asked again after `earlier`, `more` and `groups`. What is found is kept, and
   * holds over restarts while no clip of the project changes. `known`: the caller has groups already, kept ones are not
   * told again.
   */
  step(volume: string, project: string, known: boolean): Promise<SearchAnswer>;
}
