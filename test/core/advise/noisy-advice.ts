import { type AdviceState, advise, NO_ADVICE } from '../../../src/core/advise/advise.ts';
import { volumeBusy } from '../../../src/core/advise/rules/volume-busy.ts';
import { NOTHING_WATCHED, watchLoad } from '../../../src/core/assess/load-watch.ts';
import { STEP } from '../assess/noisy-day.ts';
import { NOON, SECOND, sampleAssessment, sampleVolume } from '../samples.ts';

const THRESHOLDS = { speedRaise: 1, speedClear: 0.9, raiseAfter: 20, clearAfter: 60 };
const LINE = 0.75;

/** What is announced of a volume with these loads, a look every ten seconds: "seconds event". */
export function changesOf(shares: readonly number[]): string[] {
  let watch = NOTHING_WATCHED;
  let state: AdviceState = NO_ADVICE;
  const said: string[] = [];
  for (const [index, share] of shares.entries()) {
    watch = watchLoad(watch, share, STEP);
    const seconds = (index + 1) * STEP;
    const load = { share: watch.load ?? 0, isHigh: watch.isHigh, readBps: 4e8 * share, writeBps: 0, ownReadBps: 0 };
    const at = NOON + seconds * SECOND;
    const assessment = sampleAssessment({ at, volumes: [sampleVolume({ load })] });
    const advice = advise(state, assessment, THRESHOLDS, at, [volumeBusy]);
    state = advice.state;
    said.push(...advice.announcements.map(({ event }) => `${seconds} ${event}`));
  }
  return said;
}

/** Beginnings and ends that a plain line would tell of, at each look. */
export function naiveChanges(shares: readonly number[]): number {
  return shares.filter((share, index) => share > LINE !== (shares[index - 1] ?? 0) > LINE).length;
}
