import { formatBytes, formatCount, formatDuration, formatFrameRate, formatRate } from '../units.ts';
import type { PlanSnapshot } from './plan-json.ts';
import { wrap } from './text.ts';

/** Does the coming shoot fit, play, and get backed up? In sentences, no line wider than `width`. */
export function planScreen(plan: PlanSnapshot, width: number): string {
  const sections = [
    wrap(shootSentence(plan), width),
    wrap(rateSentence(plan), width, '  Footage   '),
    wrap(roomSentence(plan), width, '  Capacity  '),
    wrap(playSentence(plan), width, '  Speed     '),
    wrap(backupSentence(plan), width, '  Safety    '),
    ...levelSections(plan, width),
    ...(plan.others.length === 0
      ? []
      : [wrap(`Planned as well: ${plan.others.join(', ')} (headroomd plan NAME).`, width)]),
  ];
  return `${sections.map((lines) => lines.join('\n')).join('\n')}\n`;
}

function shootSentence({ project, days, cameras, format, width, height, frameRate, hours }: PlanSnapshot): string {
  const picture = `${format} ${width}x${height} at ${formatFrameRate(frameRate)} fps`;
  const each = cameras === 1 ? 'one camera' : `${cameras} cameras`;
  const when = days.length === 1 ? `on ${days[0]}` : `on ${days.length} days from ${days[0]} to ${days.at(-1)}`;
  return `${project}, ${when}: ${each}, ${picture}, ${hours} h a day${cameras === 1 ? '' : ' each'}.`;
}

function rateSentence(plan: PlanSnapshot): string {
  const { bytesPerCameraHour, bytesPerDay, bytesTotal, days, format, rateBps } = plan;
  if (bytesPerCameraHour === null || bytesPerDay === null || bytesTotal === null || rateBps === null) {
    return (
      `Not known: no clip in ${format} of this raster and frame rate is here, and there is no published rate for it. ` +
      'Copy a test clip in, and ask again.'
    );
  }
  const all = days.length === 1 ? '' : `, ${formatBytes(bytesTotal)} in all`;
  return `${formatBytes(bytesPerCameraHour)} for each camera and hour (${formatRate(rateBps)}${fromWords(plan)}); ${formatBytes(bytesPerDay)} a day${all}.`;
}

function fromWords({ rateFrom, rateSource, rateClips, project }: PlanSnapshot): string {
  switch (rateFrom) {
    case 'own-project':
      return `, as ${formatCount(rateClips, 'clip')} of ${project} ${rateClips === 1 ? 'is' : 'are'}`;
    case 'own-clips':
      return `, as ${formatCount(rateClips, 'clip')} of other projects ${rateClips === 1 ? 'is' : 'are'}`;
    case 'published-exact':
      return `, by ${rateSource}`;
    default:
      return `, the most by ${rateSource}; real footage is mostly less`;
  }
}

function roomSentence(plan: PlanSnapshot): string {
  return `${byItself(plan)}${withTheRest(plan)}`;
}

/** Nothing is certain of a shoot: plans slip, days are longer, and other footage comes. */
function withTheRest({ chanceFits }: PlanSnapshot): string {
  if (chanceFits === null || chanceFits === undefined) return '';
  return ` With all else that comes as it did lately, and days as long or short as they turn out, it fits in ${Math.round(10 * chanceFits)} of 10 cases.`;
}

function byItself({ volume, bytesTotal, bytesPerDay, roomBytes, fits, fullOn }: PlanSnapshot): string {
  if (fits === null || bytesTotal === null || roomBytes === null || bytesPerDay === null) return 'Not known.';
  const room = `${volume} takes ${formatBytes(Math.max(0, roomBytes))} more before its reserve is touched`;
  if (fits) return `It fits: ${room}, ${formatBytes(roomBytes - bytesTotal)} are left after the shoot.`;
  const when = fullOn === null ? '' : ` They are used up on ${fullOn}.`;
  return `It does not fit: ${room}, ${formatBytes(bytesTotal - Math.max(0, roomBytes))} too little.${when}`;
}

function playSentence(plan: PlanSnapshot): string {
  const { cameras, demandBps, budgetBps, anglesLeft, volume } = plan;
  if (demandBps === null) return 'Not known.';
  const what = cameras === 1 ? 'playing one camera' : `playing ${cameras} angles at once`;
  const need = `${what}, with a transition and going back and forth, needs ${formatRate(demandBps)}`;
  if (budgetBps === null) return `Not known: ${need}; what ${volume} gives is neither declared nor measured.`;
  const budget = `the ${formatRate(budgetBps)} that ${volume} may be asked for${rangeWords(plan)}`;
  if (demandBps > budgetBps)
    return `It does not play: ${need}, ${formatRate(demandBps - budgetBps)} more than ${budget}.`;
  const left = anglesLeft === null ? '' : `; ${anglesWords(anglesLeft)}`;
  return `It plays: ${need} of ${budget}${left}.`;
}

function rangeWords({ basis, budgetLowBps, budgetHighBps, volume }: PlanSnapshot): string {
  if (basis === 'declared') return ' (declared)';
  if (budgetLowBps === null || budgetHighBps === null) return '';
  const range = `${formatRate(budgetLowBps)} to ${formatRate(budgetHighBps)}`;
  return basis === 'layout'
    ? ` (${range}; such drives differ, "headroomd measure ${volume}" tells)`
    : ` (${range}, ${basis === 'measured' ? 'measured' : 'seen at work'})`;
}

function anglesWords(anglesLeft: number): string {
  if (anglesLeft === 0) return 'no further angle would play';
  return anglesLeft > 50
    ? 'many more angles would play'
    : `${formatCount(anglesLeft, 'more angle')} of them would play`;
}

function backupSentence({ bytesPerDay, backupSeconds, windowFits }: PlanSnapshot): string {
  const much = bytesPerDay === null ? "A day's footage" : `${formatBytes(bytesPerDay)} a day`;
  const work = `${much} must be copied and read back each night`;
  if (backupSeconds === null || windowFits === null) {
    return `${work}; how long that takes is not known before something was copied to a shelf. Keep the cards until it is done.`;
  }
  const fits = windowFits ? 'which fits the window' : 'which does not fit the window: make it longer, or begin by day';
  return `${work}: about ${formatDuration(backupSeconds)} as fast as before, to the shelves that are here, ${fits}. Keep the cards until it is done.`;
}

function levelSections(plan: PlanSnapshot, width: number): string[][] {
  const [now, ...others] = plan.layouts;
  if (now === undefined) return [];
  return [
    wrap(`The same ${formatCount(now.members, 'member')} at level ${now.level}, as now:`, width),
    wrap(levelSentence(now), width, '  - '),
    ...(others.length === 0 ? [] : [wrap('At another level, for this shoot:', width)]),
    ...others.map((choice) => wrap(`level ${choice.level}: ${levelSentence(choice)}`, width, '  - ')),
    wrap(
      'Chances are for drives of which 1.5 in a hundred fail in a year, and one loss in a hundred years from other causes (deletion, theft, fire), which no level prevents. Members of one age and one box fail together more often than that. With a backup each night to one slower drive at most the 24 hours since the last one are exposed; without, all of it, all the time.',
      width,
    ),
  ];
}

type Level = PlanSnapshot['layouts'][number];

/** First what it means for the shoot, then what it costs and what it saves. */
function levelSentence(level: Level): string {
  const { readBudgetBps, writeBudgetBps, lossYear, lossNight } = level;
  const speed = `${formatRate(readBudgetBps)} to read, ${formatRate(writeBudgetBps)} to write`;
  const loss = `all is lost with a chance of ${chance(lossYear)} in a year, ${chance(lossNight)} from night to night`;
  return `${roomWords(level)}${playWords(level)} (${speed}); ${survivesWords(level)}: ${loss}.`;
}

function roomWords({ usableBytes, fits, isNow, moreBytes }: Level): string {
  if (isNow || fits === null) return `${formatBytes(usableBytes)} in all`;
  const beside = moreBytes >= 0 ? `${formatBytes(moreBytes)} more` : `${formatBytes(-moreBytes)} less`;
  return `${fits ? 'fits' : 'does not fit'} (${beside} room)`;
}

function playWords({ plays }: Level): string {
  return plays === null ? '' : `, ${plays ? 'plays' : 'does not play'}`;
}

function survivesWords({ survives }: Level): string {
  if (survives === 0) return 'one failed member loses everything';
  return survives === 1 ? 'any one member may fail' : `any ${survives} members may fail`;
}

/** `7.0 %`, `0.02 %`: two digits that tell something. */
function chance(share: number): string {
  const percent = share * 100;
  return `${percent >= 10 ? percent.toFixed(0) : percent.toPrecision(2)} %`;
}
