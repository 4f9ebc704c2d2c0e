import { formatBytes, formatCount, formatRate, formatShare } from '../../units.ts';
import type { IsoTime } from '../iso-time.ts';
import { shortTime } from '../sentences.ts';
import type { ProjectSnapshot } from '../snapshot-project.ts';
import type { VolumeSnapshot } from '../snapshot-volume.ts';

const SPEED_BASIS: Readonly<Record<NonNullable<VolumeSnapshot['speed']['basis']>, string>> = {
  declared: 'What it gives is what the configuration declares; nobody has measured it.',
  layout: 'What it gives is what such drives usually give, put together so; nobody has measured these.',
  measured: 'What it gives was measured on this volume.',
  observed: 'What it gives is what its drives were seen to give at work.',
};

/** Where the figures of a volume's speed come from. */
export function speedBasis({ speed }: VolumeSnapshot): string[] {
  const { basis, range, reserveShare, demandParts, demandFrom, streams, readBudgetBps } = speed;
  const parts = demandParts === null ? null : partsWords(demandParts);
  return [
    ...(demandFrom === null || parts === null
      ? []
      : [`Needed: ${demandFrom}${streams === null ? '' : ` (${formatCount(streams, 'stream')})`}. ${parts}`]),
    basis === null ? 'What it gives is not known: it is neither declared, detected nor measured.' : SPEED_BASIS[basis],
    ...(readBudgetBps === null
      ? []
      : [
          `${formatShare(reserveShare)} of its speed is kept free, and is off already in the ${formatRate(readBudgetBps)}.`,
        ]),
    ...(range === null || basis === 'declared'
      ? []
      : [
          `In four of five cases it may be asked for something between ${formatRate(range.readLowBps)} and ${formatRate(range.readHighBps)}.`,
        ]),
  ];
}

function partsWords({
  anglesBps,
  spreadBps,
  transitionBps,
  scrubBps,
  ambientBps,
}: NonNullable<VolumeSnapshot['speed']['demandParts']>): string {
  const parts = [
    `${formatRate(anglesBps)} for the pictures in the mean`,
    `${formatRate(spreadBps)} for their peaks`,
    `${formatRate(transitionBps)} for a transition`,
    `${formatRate(scrubBps)} for going back and forth`,
    `${formatRate(ambientBps)} for other work that goes on`,
  ];
  return `That is ${parts.join(', ')}.`;
}

/** Where the figures of a volume's room come from. */
export function roomBasis({ capacity, stale }: VolumeSnapshot, at: IsoTime): string[] {
  const { overrun, reserveBytes, totalBytes } = capacity;
  if (totalBytes === null) return ['Its room was not asked for yet.'];
  return [
    `Room is what the file system tells${stale ? ', as it was last seen' : `, asked for at ${shortTime(at, at)}`}.`,
    ...(reserveBytes === null ? [] : [`${formatBytes(reserveBytes)} are kept free by the configuration.`]),
    ...(overrun === null || overrun.basis === 'not-enough-history'
      ? ['When it will be full is told from three days with footage on, or with a shoot plan.']
      : [
          `Dates are read off 300 futures drawn from the ${formatCount(overrun.shootDays, 'day')} with footage so far, about ${formatBytes(overrun.shootDayBytes)} each${overrun.planned ? ', and the shoot plan' : ''}. Nothing is taken to be deleted.`,
        ]),
  ];
}

/** Where the figures of a volume's copies come from. */
export function safetyBasis({ safety }: VolumeSnapshot, at: IsoTime): string[] {
  const { lastVerifiedAt } = safety;
  return [
    'Counted are files of footage, sound, graphics and projects on the volume with fewer verified copies on other drives than you want.',
    'A copy counts as verified when it was written, read back from its medium and found equal; what a program of yours reports does not until headroomd has read it.',
    lastVerifiedAt === null
      ? 'No copy of it was read back yet.'
      : `A copy was last read back at ${shortTime(lastVerifiedAt, at)}. What became of it since, nobody has looked.`,
  ];
}

/** Where the figures of a project come from. */
export function projectBasis({ shootDays = [], multicam }: ProjectSnapshot): string[] {
  const [group] = multicam;
  return [
    'Bytes are those of its files, a content with several names counted once; minutes and formats are as the headers of its clips tell.',
    ...(shootDays.length === 0 ? [] : ['Days are those on which its files were changed last.']),
    ...(group === undefined ? [] : [`Angles: ${group.evidence}; confidence ${formatShare(group.confidence)}.`]),
  ];
}

/** Where the figures of what arrives come from. */
export function arrivalBasis(): string[] {
  return [
    'Bytes are those that are there so far. A file is ready when its own structure says that it is whole and no program writes to it; where neither can be told, when nothing has changed for a while.',
    'What has arrived of a card is told by name and size; contents are compared where a list came with the footage, and when copies are verified.',
  ];
}
