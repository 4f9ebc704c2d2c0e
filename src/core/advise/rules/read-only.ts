import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { type BackupView, lackedBy, type ShelfState } from '../../backup/backup-view.ts';
import { display } from '../../present/escape.ts';
import { formatBytes } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import { type Outcome, perVolume, type Rule, type RuleResult, resultOf } from './rule.ts';

const HOUR_MS = 3_600_000;
/** A volume to which no footage came for so long, and on which none is planned, may be kept as it is on purpose. */
const AT_REST_MS = 30 * 24 * HOUR_MS;

/** A volume that cards are copied to takes no writes: it was mounted so, or the system has turned it so. */
export const volumeReadOnly: Rule = {
  kind: 'volume-read-only',
  immediate: false,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, (volume) => judge(volume, assessment)),
};

function judge(volume: VolumeAssessment, assessment: Assessment): Outcome {
  const { capacity, readOnly } = volume;
  if (capacity === null) return 'figure-unknown';
  if (readOnly === null || (readOnly.turnedAt === null && isAtRest(volume, assessment))) return null;
  const hasBackup = assessment.backups.shelves.some(({ volumes }) => volumes.includes(volume.name));
  return readOnly.turnedAt === null ? mountedSo(volume) : turnedSo(volume, hasBackup);
}

/** It holds footage, all of it old, and no shoot is planned there. */
function isAtRest({ name }: VolumeAssessment, { at, projects, plans }: Assessment): boolean {
  const hours = projects.filter(({ sum }) => sum.volume === name).flatMap((project) => project.hours);
  const newest = hours.reduce((latest, { hour }) => Math.max(latest, hour), 0);
  return hours.length > 0 && at - newest * HOUR_MS > AT_REST_MS && !plans.some(({ volume }) => volume === name);
}

function mountedSo(volume: VolumeAssessment): Finding {
  const free = formatBytes(volume.capacity?.space.availableBytes ?? 0);
  return {
    ...headOf(volume),
    severity: 'warning',
    message: `${display(volume.name)} is mounted read-only at ${display(volume.path)}: no card can be copied to it, though ${free} are free.`,
    remedies: [{ action: `Mount ${display(volume.name)} for writing`, effect: `${free} can be written again` }],
  };
}

function turnedSo(volume: VolumeAssessment, hasBackup: boolean): Finding {
  const free = formatBytes(volume.capacity?.space.availableBytes ?? 0);
  return {
    ...headOf(volume),
    severity: 'critical',
    message: `${display(volume.name)} at ${display(volume.path)} has become read-only: no card can be copied to it, though ${free} are free. A system does that when a drive answers with errors. Keep the cards of what was copied last.`,
    remedies: [
      copyFirst(volume, hasBackup),
      {
        action: 'Then look at the cable, the drive and the messages of the system (journalctl -k), and mount it anew',
        effect: `${free} can be written again`,
      },
    ],
  };
}

function copyFirst({ name, safety }: VolumeAssessment, hasBackup: boolean): Remedy {
  const exposed = safety?.exposedBytes ?? null;
  const what =
    exposed === null ? 'what has too few copies is not known' : `${formatBytes(exposed)} have too few copies`;
  const how = hasBackup ? '"headroomd backup now"' : 'no backup of it is configured: by hand, to another drive';
  return { action: `Copy from ${display(name)} first, while it can be read (${how})`, effect: what };
}

function headOf({ name, capacity, readOnly }: VolumeAssessment): Pick<Finding, 'kind' | 'subject' | 'figures'> {
  const figures = { availableBytes: capacity?.space.availableBytes ?? null, turnedAt: readOnly?.turnedAt ?? null };
  return { kind: 'volume-read-only', subject: name, figures };
}

/** A shelf is there and takes no writes: no backup to it can go well. */
export const shelfReadOnly: Rule = {
  kind: 'shelf-read-only',
  immediate: false,
  evaluate: ({ backups }: Assessment): RuleResult =>
    resultOf(backups.shelves.map((shelf) => [shelf.name, judgeShelf(shelf, backups)] as const)),
};

function judgeShelf(shelf: ShelfState, { outlooks }: BackupView): Outcome {
  const { name, path, state, readOnly } = shelf;
  if (state !== 'ready' && state !== 'new') return 'figure-unknown';
  if (readOnly !== true) return null;
  const lacks = lackedBy(name, outlooks);
  const waiting = lacks === null || lacks === 0 ? null : formatBytes(lacks);
  return {
    kind: 'shelf-read-only',
    subject: name,
    severity: 'warning',
    message: `${display(name)} is read-only at ${display(path)}: no backup can be written to it. ${waiting === null ? 'What comes next' : `${waiting} that wait for it`} will get no copy there. A system does that when a drive answers with errors.`,
    figures: { lacksBytes: lacks },
    remedies: [
      {
        action: `Look at the cable and the drive, mount ${display(name)} for writing, then run "headroomd backup now ${display(name)}"`,
        effect: `${waiting === null ? 'what comes next is' : `${waiting} are`} copied and read back`,
      },
    ],
  };
}
