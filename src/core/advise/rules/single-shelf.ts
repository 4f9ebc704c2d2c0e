import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { shelfDrives } from '../../backup/wanted-copies.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, listWords } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Outcome, type Rule, type RuleResult, resultOf } from './rule.ts';

/** All shelves of a volume lie on one drive: with that drive and the volume all is lost. Stands as long as it is so. */
export const singleShelf: Rule = {
  kind: 'single-shelf',
  immediate: false,
  // It hangs on the configuration, not on whether the volume is here.
  evaluate: (assessment: Assessment): RuleResult =>
    resultOf(assessment.volumes.map((volume) => [volume.name, judge(volume, assessment)] as const)),
};

function judge(volume: VolumeAssessment, { backups }: Assessment): Outcome {
  const { shelves, sums } = backups;
  const mine = shelves.filter(({ volumes }) => volumes.includes(volume.name));
  if (mine.length === 0 || shelfDrives(shelves, volume.name) > 1) return null;
  const bytes = sums.filter((sum) => sum.volume === volume.name).reduce((most, sum) => Math.max(most, sum.bytes), 0);
  return findingOf(
    volume,
    mine.map(({ name }) => name),
    bytes,
  );
}

function findingOf({ name, wanted }: VolumeAssessment, shelves: readonly string[], bytes: number): Finding {
  const names = listWords(shelves.map(display));
  const where = shelves.length === 1 ? `there is a single shelf, ${names}` : `${names} lie on one drive`;
  const many =
    wanted.copies === 1
      ? 'one verified copy of each file is wanted while it is so'
      : `${wanted.copies} verified copies of each file are wanted, and there is a place for one`;
  return {
    kind: 'single-shelf',
    subject: name,
    severity: 'notice',
    message: `${display(name)}: ${where}, so ${many}. Common practice is 3-2-1: three copies, on two kinds of media, one of them elsewhere. A fire, a theft or a surge that takes the volume and that drive takes all.`,
    figures: { shelves: shelves.length, wantedCopies: wanted.copies, copiedBytes: bytes },
    remedies: [
      {
        action:
          'Write a second [[shelf]] on another drive into the configuration (rotate = true, if it leaves the building), and its name into the [[backup]]',
        effect:
          bytes === 0
            ? 'each file then gets two verified copies on different drives'
            : `the ${formatBytes(bytes)} that have one copy get a second one, which outlives the loss of the first`,
      },
    ],
  };
}
