import type { SpeedBasis } from '../assess/speed-belief.ts';
import { formatCount, formatRate, formatShare } from '../units.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';

/** Less than this is nobody's work. */
const QUIET_BPS = 100_000;

/** More angles than this nobody counts. */
const MANY = 50;

/** Can I play this? */
export function playSentence({ name, speed }: VolumeSnapshot): string {
  const { demandBps, readBudgetBps, anglesLeft } = speed;
  if (demandBps === null) return 'Nothing to judge by yet: no clip with a known rate.';
  const what = speed.demandFrom ?? 'playing what was recorded last';
  if (readBudgetBps === null) {
    return `Not known: ${what} would need ${formatRate(demandBps)}, but this volume's speed is neither declared nor measured.`;
  }
  const sum = `${what} needs ${formatRate(demandBps)}${besideWords(speed)} of the ${formatRate(readBudgetBps)} that may be asked for`;
  const short =
    demandBps > readBudgetBps ? `, ${formatRate(demandBps - readBudgetBps)} too much` : moreAngles(anglesLeft);
  return `${verdict(speed, demandBps, readBudgetBps)}: ${sum}${short}.${basisWords(name, speed)}`;
}

/** As sure as what is known of the volume allows. */
function verdict({ basis, range }: VolumeSnapshot['speed'], demandBps: number, budgetBps: number): string {
  const fits = demandBps <= budgetBps;
  if (basis === 'declared') return fits ? 'Yes, if its declared speed is true' : 'No';
  const [low, high] = [range?.readLowBps ?? budgetBps, range?.readHighBps ?? budgetBps];
  if (demandBps <= low) return 'Yes';
  if (demandBps > high) return 'No';
  return fits ? 'Probably' : 'Probably not';
}

const BASIS_WORDS: Readonly<Record<Exclude<SpeedBasis, 'declared'>, string>> = {
  layout: 'This is what such drives, put together so, usually give',
  measured: 'This rests on measurement',
  observed: 'This rests on what was seen at work',
};

/** On what the budget rests, and how far it may be from the truth. */
function basisWords(name: string, { basis, range }: VolumeSnapshot['speed']): string {
  if (basis === null || basis === 'declared' || range === null) return '';
  const between = `between ${formatRate(range.readLowBps)} and ${formatRate(range.readHighBps)} in four of five cases`;
  const measure = basis === 'layout' ? `; "headroomd measure ${name}" tells what it is here` : '';
  return ` ${BASIS_WORDS[basis]}: ${between}${measure}.`;
}

/** What goes on there now; `null` where nothing is told of its drives. A snapshot stored by an earlier version does not tell. */
export function loadSentence({ speed: { load } }: VolumeSnapshot): string | null {
  if (load === undefined || load === null) return null;
  if (load.readBps + load.writeBps < QUIET_BPS) return 'Now: quiet.';
  const own = load.ownReadBps < QUIET_BPS ? '' : `, ${formatRate(load.ownReadBps)} of it by headroomd`;
  return `Now: ${formatRate(load.readBps)} read${own}, ${formatRate(load.writeBps)} written; lately ${formatShare(load.share)} of what it gives.`;
}

/** Of what is needed, what other work takes, where that is worth a word. */
function besideWords({ demandBps, demandParts }: VolumeSnapshot['speed']): string {
  const besideBps = demandParts?.ambientBps ?? 0;
  if (besideBps < (demandBps ?? 0) / 20) return '';
  return ` (${formatRate(besideBps)} of it for other work that goes on there)`;
}

function moreAngles(anglesLeft: number | null): string {
  if (anglesLeft === null) return '';
  if (anglesLeft === 0) return '; no further angle would fit';
  const more = anglesLeft > MANY ? 'many more angles' : formatCount(anglesLeft, 'more angle');
  return `; ${more} of the largest would fit`;
}
