import type { ProjectSum } from '../store-ports.ts';
import type { MadeAssessment } from './made.ts';

/** What of a project programs can make again from footage that is here. Bytes. */
export interface Regenerable {
  cacheBytes: number;
  /** Proxies and renders whose source is known and is here. */
  madeBytes: number;
}

export function regenerable({ byKind }: Pick<ProjectSum, 'byKind'>, made: MadeAssessment): Regenerable {
  return { cacheBytes: byKind.cache ?? 0, madeBytes: made.replaceableBytes };
}
