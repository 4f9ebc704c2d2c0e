import type { AdvisoryKind } from '../advise/advisory.ts';
import type { Severity } from '../model.ts';
import type { Snapshot } from '../present/snapshot.ts';
import { CLEARED_WORDS } from '../present/wording.ts';
import { type Family, familiesOf, type Row, statesOf } from './family.ts';

const KINDS = Object.keys(CLEARED_WORDS) as AdvisoryKind[];
const SEVERITIES = statesOf<Severity>({ notice: 1, warning: 1, critical: 1 });

const ROWS: readonly Row<Snapshot>[] = [
  {
    name: 'headroomd_arrivals',
    unit: null,
    help: 'Files and folders that are no clips yet: on their way, stalled in the middle, or refused.',
    of: ({ arrivals, arrivalTotals }) => {
      const count = (stage: string) => arrivals.filter(({ state }) => state === stage).length;
      const [stalled, refused] = [count('stalled'), count('refused')];
      return [
        [{ state: 'moving' }, Math.max(0, arrivalTotals.pending - stalled - refused)],
        [{ state: 'stalled' }, stalled],
        [{ state: 'refused' }, refused],
      ];
    },
  },
  {
    name: 'headroomd_arrivals_bytes',
    unit: 'bytes',
    help: 'Bytes of these so far, halted ones among them.',
    of: ({ arrivalTotals }) => arrivalTotals.bytes,
  },
  {
    name: 'headroomd_cards',
    unit: null,
    help: 'Camera cards that are mounted, those that are gone, and lists that came with footage, as far as they are told of.',
    of: ({ cards }) =>
      (['mounted', 'gone', 'manifest'] as const).map((one) => [
        { state: one },
        cards.filter(({ state }) => state === one).length,
      ]),
  },
  {
    name: 'headroomd_cards_missing_footage_files',
    unit: null,
    help: 'Footage of these cards and lists that is not here, or not whole.',
    of: ({ cards }) => cards.reduce((sum, { missingFootage }) => sum + missingFootage, 0),
  },
  {
    name: 'headroomd_advisories',
    unit: null,
    help: 'Advisories that are raised now and that nobody wants quiet, by what they are about.',
    of: ({ advisories }) =>
      KINDS.flatMap((kind) =>
        SEVERITIES.map((severity) => {
          const raised = advisories.filter(
            (one) => one.kind === kind && one.severity === severity && one.snooze === null,
          );
          return [{ kind, severity }, raised.length] as const;
        }),
      ),
  },
  {
    name: 'headroomd_advisories_snoozed',
    unit: null,
    help: 'Advisories that are raised now and that somebody wants quiet.',
    of: ({ advisories }) =>
      SEVERITIES.map((severity) => {
        const quiet = advisories.filter((one) => one.severity === severity && one.snooze !== null);
        return [{ severity }, quiet.length] as const;
      }),
  },
];

/** What is told of all volumes together. */
export function noticeFamilies(snapshot: Snapshot): Family[] {
  return familiesOf(ROWS, [snapshot], () => ({}));
}
