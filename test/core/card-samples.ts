import type { CardAssessment } from '../../src/core/assess/assessment.ts';
import type { Candidate, Inventory } from '../../src/core/cards/inventory.ts';
import { arrivedPaths, reconcileAll, stepProgress } from '../../src/core/cards/reconcile.ts';
import { cardOf, claimOf, copiesOf, fileOf, MB, reconcileAgainst } from './cards/arrived.ts';
import { NOON } from './samples.ts';

/** Five takes with a sidecar each and the camera's own index, 10 GB and a little. */
export const SAMPLE_CARD: Inventory = cardOf(
  'f00d',
  [
    ...[1, 2, 3, 4, 5].flatMap((take) => [
      fileOf(`M4ROOT/CLIP/C000${take}.MP4`, (1998 + take) * MB),
      fileOf(`M4ROOT/CLIP/C000${take}M01.XML`, 2000),
    ]),
    fileOf('M4ROOT/MEDIAPRO.XML', 3000),
  ],
  { name: 'SM-A01', layout: 'XAVC (M4ROOT)' },
);

export const SAMPLE_FOLDER = 'Saltmarsh/Day 3/Card A';

export const SAMPLE_COPIES = copiesOf(SAMPLE_CARD, SAMPLE_FOLDER);

/** The sample card, in its reader, beside these copies. */
export function sampleCard(
  copies: readonly Candidate[] = SAMPLE_COPIES,
  over: Partial<CardAssessment> = {},
  inventory = SAMPLE_CARD,
): CardAssessment {
  const [reconciliation] = reconcileAgainst([inventory], copies);
  if (reconciliation === undefined) throw new Error('one inventory gives one reconciliation');
  return {
    state: 'mounted',
    goneSince: null,
    reconciliation,
    progress: stepProgress(null, reconciliation, NOON),
    stalled: false,
    wasComplete: false,
    notLive: [],
    copies: null,
    check: null,
    lists: [],
    kept: null,
    ...over,
  };
}

/** The sample card beside what is here now, after `earlier` had arrived. */
export function clearedCard(
  now: readonly Candidate[],
  earlier: readonly Candidate[],
  over: Partial<CardAssessment> = {},
): CardAssessment {
  const before = new Set(reconcileAll([claimOf(SAMPLE_CARD, earlier)]).flatMap(arrivedPaths));
  const [reconciliation] = reconcileAll([{ ...claimOf(SAMPLE_CARD, now), before }]);
  if (reconciliation === undefined) throw new Error('one inventory gives one reconciliation');
  return sampleCard([], { reconciliation, ...over });
}

/** The copies of the first so many takes. */
export function copiesOfTakes(takes: number): Candidate[] {
  return SAMPLE_COPIES.slice(0, takes * 2);
}
