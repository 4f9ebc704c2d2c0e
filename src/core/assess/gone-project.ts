import type { ProjectCopies } from '../backup/project-copies.ts';
import type { ProjectSum } from '../store-ports.ts';

/** The sum of a project of which nothing is left on its volume. */
export function goneProject({ volume, area, project }: Pick<ProjectCopies, 'volume' | 'area' | 'project'>): ProjectSum {
  return {
    ...{ volume, area, project, bytes: 0, footageBytes: 0, clips: 0, durationSeconds: 0, byKind: {}, formats: [] },
    made: { clips: 0, bytes: 0, durationSeconds: 0 },
    exposed: { bytes: 0, clips: 0, durationSeconds: 0, since: null },
  };
}
