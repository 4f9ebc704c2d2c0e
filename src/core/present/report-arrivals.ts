import { formatBytes, formatCount, formatDuration, listWords } from '../units.ts';
import { cardSentence, unseenSentences } from './card-sentences.ts';
import { namesAndMore } from './lacking-words.ts';
import type { ArrivedSnapshot, Report } from './report.ts';
import { arrivalSentence, shortTime } from './sentences.ts';
import { AREA_WORDS, STAGE_WORDS } from './wording.ts';

/** Halted arrivals that are named each; the rest is counted. */
const MOST_NAMED = 10;

/** What came, by project; what did not come whole; and what was taken away. */
export function arrivedSentences(report: Report): string[] {
  const { arrived, unseen, at } = report;
  return [
    ...(arrived.length === 0 ? ['No footage became ready.'] : arrived.map((sum) => oneSentence(sum, at))),
    ...notDecodedSentences(report),
    ...haltedSentences(report),
    ...pendingSentences(report),
    ...report.incomplete.map(
      ({ volume, project, takes }) =>
        `${project} (${volume}): ${formatCount(takes.length, 'take lacks', 'takes lack')} parts or frames: ${namesAndMore(takes)}.`,
    ),
    ...cardsSentences(report),
    ...unseenSentences(unseen),
    ...removedSentences(report),
  ];
}

function oneSentence(sum: ArrivedSnapshot, at: string): string {
  const { clips, made } = sum;
  const others =
    made.clips === 0
      ? ''
      : `${formatCount(made.clips, 'proxy or render', 'proxies and renders')} (${formatBytes(made.bytes)})`;
  if (clips === 0) return `${whereOf(sum)}: no footage${others === '' ? '' : `; ${others}`}.`;
  return `${whereOf(sum)}: ${footageWords(sum)}${timesWords(sum, at)}${cardWords(sum)}${others === '' ? '' : `; besides, ${others}`}.`;
}

function whereOf({ volume, area, project }: ArrivedSnapshot): string {
  return project === null ? `${volume}, ${AREA_WORDS[area]}` : `${project} (${volume})`;
}

/** What is in no sum of minutes is said. */
function footageWords({ clips, bytes, durationSeconds, untimed }: ArrivedSnapshot): string {
  const time = durationSeconds === 0 ? '' : `, ${formatDuration(durationSeconds)}`;
  const less = untimed === 0 ? '' : ` (the length of ${formatCount(untimed, 'clip')} is not known)`;
  return `${formatCount(clips, 'clip')}, ${formatBytes(bytes)}${time}${less}`;
}

function timesWords({ firstAt, lastAt }: ArrivedSnapshot, at: string): string {
  if (firstAt === null || lastAt === null) return '';
  const [first, last] = [firstAt, lastAt].map((time) => shortTime(time, at));
  return first === last ? `, ready ${first}` : `, the first ready ${first}, the last ${last}`;
}

function cardWords({ cards }: ArrivedSnapshot): string {
  return cards.length === 0
    ? ''
    : `, ${formatCount(cards.length, 'card or list', 'cards or lists')}: ${namesAndMore(cards)}`;
}

function notDecodedSentences({ arrived, notDecoded }: Report): string[] {
  const count = arrived.reduce((sum, one) => sum + one.notDecoded, 0);
  if (count === 0) return [];
  const names = namesAndMore(
    notDecoded.map(({ name }) => name),
    count,
  );
  return [`Not decoded, for no reader here knows what is in ${count === 1 ? 'it' : 'them'}: ${names}.`];
}

function haltedSentences({ halted, at }: Report): string[] {
  const more = halted.length - MOST_NAMED;
  return [
    ...halted
      .slice(0, MOST_NAMED)
      .map((one) => `${capital(STAGE_WORDS[one.state])}: ${one.path} (${one.volume}), ${arrivalSentence(one, at)}.`),
    ...(more > 0 ? [`${formatCount(more, 'more is', 'more are')} refused, stopped or not whole.`] : []),
  ];
}

/** Those that halted were told one by one. */
function pendingSentences({ pending: { count, bytes }, halted }: Report): string[] {
  const going = count - halted.length;
  if (going <= 0) return [];
  const moving = bytes - halted.reduce((sum, one) => sum + one.bytes, 0);
  return [
    `${formatCount(going, 'file or sequence is', 'files or sequences are')} still on ${going === 1 ? 'its' : 'their'} way (${formatBytes(Math.max(0, moving))} so far).`,
  ];
}

function cardsSentences({ cards, at }: Report): string[] {
  const lacking = cards.filter(
    ({ missingFootage, gap, check }) => missingFootage > 0 || gap !== null || check !== null,
  );
  const whole = cards.filter((card) => card.complete === true && !lacking.includes(card)).map(({ name }) => name);
  return [
    ...lacking.map((card) => cardSentence(card, at)),
    ...(whole.length === 0 ? [] : [`By name and size all footage of ${listWords(whole)} is here.`]),
  ];
}

function removedSentences({ removed, removedFrom, at }: Report): string[] {
  return removed.map(({ volume, project, files, bytes, footageBytes }) => {
    const where = project === null ? `${volume}, outside projects` : `${project} (${volume})`;
    const footage = footageBytes > 0 ? `, ${formatBytes(footageBytes)} of it footage` : '';
    return `Taken away since ${shortTime(removedFrom, at)}: ${where}, ${formatCount(files, 'file')}, ${formatBytes(Math.max(0, bytes))}${footage}.`;
  });
}

function capital(text: string): string {
  return `${text.charAt(0).toUpperCase()}${text.slice(1)}`;
}
