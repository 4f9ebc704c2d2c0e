import type { Assessment, VolumeAssessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatBytes, formatShare } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { roomRemedies } from '../remedy.ts';
import { type Outcome, perVolume, type Rule, type RuleResult } from './rule.ts';

/** Chances that the reserve is reached within three days (own simulation: test/bench/forecast/advisory.ts). */
const RAISE = 0.5;
const CLEAR = 0.05;
/** Room for so many shoot days is what is asked for. */
const DAYS_WANTED = 3;

/** The reserve will be reached within three days, as footage came lately and as shoots are planned. Once it is reached, another rule tells. */
export const capacityOverrun: Rule = {
  kind: 'capacity-overrun',
  immediate: false,
  evaluate: (assessment: Assessment): RuleResult => perVolume(assessment, (volume) => judge(volume, assessment)),
};

function judge(volume: VolumeAssessment, assessment: Assessment): Outcome {
  const { capacity, forecast } = volume;
  if (capacity === null || forecast === null) return 'figure-unknown';
  if (capacity.roomBytes <= 0 || forecast.reserve === null) return null;
  const { within72h } = forecast.reserve;
  if (within72h < CLEAR) return null;
  const finding = findingOf(volume, assessment);
  return finding === null || within72h >= RAISE ? finding : { between: finding };
}

function findingOf(volume: VolumeAssessment, assessment: Assessment): Finding | null {
  const { capacity, forecast } = volume;
  if (capacity === null || forecast === null || forecast.reserve === null) return null;
  const { within24h, within72h, within7d } = forecast.reserve;
  const name = display(volume.name);
  const left = `${formatBytes(capacity.roomBytes)} are left above the ${formatBytes(capacity.reserveBytes)} kept free`;
  const soon = within24h >= 0.5 ? `; it may be so within a day (${formatShare(within24h)})` : '';
  return {
    kind: 'capacity-overrun',
    subject: volume.name,
    severity: 'warning',
    message: `${name} ${within72h >= RAISE ? 'will probably' : 'may'} reach its reserve within three days (chance ${formatShare(within72h)}) if nothing is deleted${soon}: ${left}, and a day of shooting brings about ${formatBytes(forecast.shootDayBytes)}${forecast.withoutPlan === null ? '' : ', plans included'}.`,
    figures: {
      ...{ within24h, within72h, within7d, roomBytes: capacity.roomBytes },
      ...{ shootDayBytes: Math.round(forecast.shootDayBytes), basis: forecast.basis },
    },
    remedies: [
      ...roomRemedies(volume, assessment, DAYS_WANTED * forecast.shootDayBytes, forecast.shootDayBytes),
      {
        action: 'Copy the cards of the next days to another volume',
        effect: `each day takes about ${formatBytes(forecast.shootDayBytes)} less here`,
      },
    ],
  };
}
