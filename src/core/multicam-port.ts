import type { MulticamGroup } from './assess/assessment.ts';
import type { ProjectSigns } from './assess/project-signs.ts';

/**
 * How far a search has come. `current`: what is known still holds; `more`: to be asked again; `part`: some of what is told, the
 * rest comes, to be asked again; `earlier`: all is told of before the clips changed, good until the search is through; `groups`: all
 * groups are told, what else the clips show is not yet; `found`: through.
 */
export type SearchStep = 'current' | 'earlier' | 'more' | 'part' | 'groups' | 'found';

/** The groups of clips that lie near each other in time. */
export interface SessionGroups {
  session: number;
  groups: MulticamGroup[];
}

export interface SearchAnswer {
  step: SearchStep;
  /** Each replaces what was told of its session. */
  sessions: SessionGroups[];
  /** Sessions that are no more. */
  gone: number[];
  /** Nothing that was told before holds: what is told from this answer on is all. */
  anew: boolean;
  /** What else the clips show; `null` where that is not told. */
  signs: ProjectSigns | null;
}

/** The catalogue's search for multicam groups: over all clips of a project, which may be many. */
export interface MulticamPort {
  /**
   * One short step of the search in a project; to be asked again but after `current` and `found`. What is found is kept, and holds
   * over restarts while no clip of the project changes. `known`: the caller has all that was told so far; else all is told anew.
   */
  step(volume: string, project: string, known: boolean): Promise<SearchAnswer>;
}
