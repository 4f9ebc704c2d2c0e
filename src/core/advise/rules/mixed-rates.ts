import type { Assessment, MulticamGroup, ProjectAssessment } from '../../assess/assessment.ts';
import type { Ratio } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { formatDuration, formatFrameRate, isoWithOffset, listWords } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/** Below this the angles of a group are guessed. */
const GUESSED_BELOW = 0.6;
/** What a phone or an action camera measures of its own rate varies by less; 23.976 and 24 differ by a thousandth. */
const ONE_RATE = 0.0003;
/** Rates that are nearly the same are taken for each other, and drift. */
const NEARLY = 0.005;

/** Cameras that ran at the same time did so at different frame rates: together they do not cut frame by frame. */
export const mixedRates: Rule = {
  kind: 'mixed-rates',
  immediate: false,
  evaluate({ volumes, projects, zone }: Assessment): RuleResult {
    const away = new Set(volumes.filter(({ state }) => state !== 'live').map(({ name }) => name));
    const findings = projects.filter(({ sum }) => !away.has(sum.volume)).flatMap((one) => findingOf(one, zone));
    const isAway = (subject: string) => [...away].some((name) => subject.startsWith(`${name}/`));
    return { findings, holds: (subject): HoldReason | null => (isAway(subject) ? 'root-not-live' : null) };
  },
};

function findingOf({ sum: { volume, project }, multicam }: ProjectAssessment, zone: string): Finding[] {
  const mixed = multicam.filter((group) => group.confidence >= GUESSED_BELOW && spreadOf(group) > ONE_RATE);
  const newest = mixed.reduce<MulticamGroup | null>(
    (last, group) =>
      last === null || (group.startsAt ?? group.readyAt) > (last.startsAt ?? last.readyAt) ? group : last,
    null,
  );
  if (newest === null || project === null) return [];
  const when = isoWithOffset(newest.startsAt ?? newest.readyAt, zone)
    .slice(0, 16)
    .replace('T', ' ');
  const groups = multicam.length === 1 ? 'its multicam group' : `${mixed.length} of ${multicam.length} multicam groups`;
  const rates = ratesOf(newest);
  return [
    {
      kind: 'mixed-rates',
      subject: `${volume}/${project}`,
      severity: 'notice',
      message: `${display(project)} on ${display(volume)}: in ${groups} cameras run at different frame rates, the last on ${when}: ${cameraWords(newest)}. ${meaningOf(newest)}`,
      figures: { groups: mixed.length, rates: rates.map(formatFrameRate).join(' '), newestAt: newest.startsAt },
      remedies: [
        {
          action:
            'Set all cameras to one frame rate before the next take, or cut with proxies that were made at one rate',
          effect: `one rate instead of ${rates.length} (${listWords(rates.map(formatFrameRate))} fps)`,
        },
      ],
    },
  ];
}

const perSecond = ({ num, den }: Ratio) => num / den;

/** By how much the fastest is above the slowest, as a share. */
function spreadOf({ frameRates }: MulticamGroup): number {
  const values = frameRates.map(perSecond);
  return values.length < 2 ? 0 : Math.max(...values) / Math.min(...values) - 1;
}

function ratesOf({ frameRates }: MulticamGroup): Ratio[] {
  return frameRates.toSorted((one, other) => perSecond(one) - perSecond(other));
}

/** `A and B at 25 fps, C at 50 fps`. */
function cameraWords(group: MulticamGroup): string {
  return ratesOf(group)
    .map((rate) => {
      const mine = group.cameraRates.filter(({ frameRate }) => perSecond(frameRate) === perSecond(rate));
      return `${listWords(mine.map(({ camera }) => display(camera)))} at ${formatFrameRate(rate)} fps`;
    })
    .join(', ');
}

function meaningOf(group: MulticamGroup): string {
  const spread = spreadOf(group);
  return spread < NEARLY
    ? `Taken for one rate they drift apart by ${formatDuration(3600 * spread)} in an hour.`
    : 'Played together, pictures of one are left out or shown twice.';
}
