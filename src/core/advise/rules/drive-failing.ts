import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import type { DriveSign } from '../../assess/drive-signs.ts';
import { display } from '../../present/escape.ts';
import { formatBytes } from '../../units.ts';
import type { Finding, Remedy } from '../advisory.ts';
import type { Rule, RuleResult } from './rule.ts';

/** A drive shows a sign of failing. One advisory for each drive, with its worst sign first. */
export const driveFailing: Rule = {
  kind: 'drive-failing',
  immediate: true,
  evaluate({ volumes }: Assessment): RuleResult {
    const findings = volumes
      .filter(({ state }) => state === 'live')
      .flatMap((volume) => {
        const byDrive = Map.groupBy(volume.signs, ({ drive }) => drive);
        return [...byDrive.values()].map((signs) => findingOf(volume, signs));
      });
    const away = volumes.filter(({ state }) => state !== 'live').map(({ name }) => name);
    return {
      findings,
      holds: (subject) => (away.some((name) => subject.startsWith(`${name}/`)) ? 'root-not-live' : null),
    };
  },
};

function findingOf(volume: VolumeAssessment, signs: readonly DriveSign[]): Finding {
  const sorted = signs.toSorted(
    (one, other) => Number(other.severity === 'critical') - Number(one.severity === 'critical'),
  );
  const [worst] = sorted;
  const { drive = '', model = null, serial = null } = worst ?? {};
  const named = [
    display(drive),
    ...(model === null ? [] : [display(model)]),
    ...(serial === null ? [] : [`serial ${display(serial)}`]),
  ];
  return {
    kind: 'drive-failing',
    subject: `${volume.name}/${drive}`,
    severity: worst?.severity ?? 'warning',
    message: `${display(volume.name)}: drive ${named.join(', ')}: ${sorted.map(({ words }) => words).join('; ')}. ${survives(volume)}`,
    figures: { drive, model, serial, signs: sorted.map(({ kind }) => kind).join(', ') },
    remedies: remediesOf(volume, sorted),
  };
}

/** What the loss of the drive would mean. Where anything is unsure, the worse is told. */
function survives({ layout, detected }: VolumeAssessment): string {
  const level = layout?.level;
  if (level === 'single' || level === '0') return 'If it dies, everything on the volume is lost.';
  if (level === undefined || layout === null) return 'If it dies, count on losing the volume.';
  if (layout.basis === 'declared' || detected === null) {
    return `If it dies, count on losing the volume: level ${level} is declared, and whether its other members are well is not seen.`;
  }
  if (detected.health.state !== 'whole') {
    return 'The array is not whole already: if this one dies too, count on losing the volume.';
  }
  // Two members on one drive, or data of several layouts, go with one drive.
  if (detected.notSeen.length > 0 || detected.drives.length < detected.members) {
    return 'If it dies, count on losing the volume: its layout is not seen well enough to say that it outlives a drive.';
  }
  return level === '6'
    ? 'The array is whole and made to outlive the loss of two members; after the first, one more is left.'
    : 'The array is whole and made to outlive the loss of one member; do not count on it outliving another.';
}

function remediesOf({ safety }: VolumeAssessment, signs: readonly DriveSign[]): Remedy[] {
  const exposed = safety?.exposedBytes ?? null;
  const save: Remedy = {
    action: 'Copy what has no verified copy to another volume now, and keep the cards',
    effect:
      exposed === null ? 'what has none is not known: count everything' : `${formatBytes(exposed)} have too few copies`,
  };
  if (signs.every(({ kind }) => kind === 'hot' || kind === 'throttled')) {
    return [{ action: 'Give the drive air, or pause heavy writing', effect: 'it slows itself until it is cooler' }];
  }
  return [save, { action: 'Replace the drive', effect: 'signs like these do not get better' }];
}
