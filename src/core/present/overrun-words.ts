import { formatCount, formatShare } from '../units.ts';
import type { IsoTime } from './iso-time.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';

/** How far ahead anything is told. */
const HORIZON = '45 days';
/** Chances below this are not worth a line. */
const WORTH_TELLING = 0.05;

/** When the room will be used up; `null`: the reserve is reached already, or nothing was asked. A snapshot of an earlier version does not tell. */
export function overrunSentences({ capacity }: VolumeSnapshot, at: IsoTime): string[] {
  const { overrun, roomBytes } = capacity;
  if (overrun === undefined || overrun === null || roomBytes === null || roomBytes <= 0) return [];
  if (overrun.basis === 'not-enough-history') {
    return [
      `When it will be full is not known yet: footage enough to reckon with came on ${formatCount(overrun.shootDays, 'day')} so far, a date is told from three on, or with a shoot plan.`,
    ];
  }
  return [dateSentence(overrun, at), ...chanceSentence(overrun)];
}

type Overrun = NonNullable<VolumeSnapshot['capacity']['overrun']>;

function dateSentence(overrun: Overrun, at: IsoTime): string {
  const { at10, at50, at90, fullAt50 } = overrun;
  const day = (time: IsoTime) => dayWords(time, at);
  const full = fullAt50 === null ? '' : `, and full ${day(fullAt50)}`;
  const when =
    at50 !== null
      ? `its reserve is reached about ${day(at50)} (${rangeWords(at10, at90, day)})${full}`
      : at10 === null
        ? `its reserve is not reached within ${HORIZON}, as far as can be told`
        : `its reserve is more likely not reached within ${HORIZON}; in one case of ten it is by ${day(at10)}`;
  return `If nothing is deleted, ${when}. ${basisWords(overrun, day)}`;
}

function rangeWords(at10: IsoTime | null, at90: IsoTime | null, day: (time: IsoTime) => string): string {
  const from = at10 === null ? 'later than that' : day(at10);
  return at90 === null ? `in four cases of five from ${from} on` : `in four cases of five from ${from} to ${day(at90)}`;
}

function basisWords({ basis, shootDays, withoutPlanAt50, planned }: Overrun, day: (time: IsoTime) => string): string {
  const early = basis === 'early-estimate' ? 'An early estimate: it' : 'It';
  const plan = !planned
    ? ''
    : withoutPlanAt50 === null
      ? ' and the shoot plan, without which it would not be so soon'
      : ` and the shoot plan; without the plan it would be about ${day(withoutPlanAt50)}`;
  return `${early} rests on ${formatCount(shootDays, 'day')} with footage${plan}.`;
}

function chanceSentence({ within24h, within72h, within7d }: Overrun): string[] {
  if (within7d < WORTH_TELLING) return [];
  return [
    `Chance of that within 24 hours ${formatShare(within24h)}, within 3 days ${formatShare(within72h)}, within 7 days ${formatShare(within7d)}.`,
  ];
}

/** `today`, `tomorrow`, `Sat 6 Mar`; of another year with the year. Days are those of the snapshot's zone. */
export function dayWords(time: IsoTime, at: IsoTime): string {
  const [day, today] = [time, at].map((text) => Temporal.PlainDate.from(text.slice(0, 10)));
  if (day === undefined || today === undefined) return time;
  const ahead = today.until(day).days;
  if (ahead === 0) return 'today';
  if (ahead === 1) return 'tomorrow';
  const weekday = WEEKDAYS[day.dayOfWeek - 1] ?? '';
  const year = day.year === today.year ? '' : ` ${day.year}`;
  return `${weekday} ${day.day} ${MONTHS[day.month - 1] ?? ''}${year}`;
}

const WEEKDAYS = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'];
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
