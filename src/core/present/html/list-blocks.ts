import { NO_LEAVE } from '../card-copies.ts';
import { cardSentences, unseenSentences } from '../card-sentences.ts';
import { cardsByTrouble, isHalted, largestFirst, pendingArrivals } from '../order.ts';
import { arrivalSentence, projectSentence } from '../sentences.ts';
import type { ArrivalSnapshot, Snapshot } from '../snapshot.ts';
import type { CardSnapshot } from '../snapshot-cards.ts';
import type { ProjectSnapshot } from '../snapshot-project.ts';
import { ARRIVAL_WORDS, STAGE_WORDS } from '../wording.ts';
import { arrivalBasis, projectBasis } from './basis.ts';
import { type Block, block } from './block.ts';
import { barHtml, escapeHtml, paragraphWith, plotHtml, text } from './elements.ts';

/** So many arrivals, cards and projects are shown; the rest is counted. */
const SHOWN = 100;

/** What is arriving? */
export function arrivalBlocks({ arrivals, arrivalTotals, at, cards, unseen }: Snapshot): Block[] {
  const pending = pendingArrivals(arrivals);
  return [
    ...limited(
      'arrivals',
      pending,
      (one) => block(`arrival:${one.volume}:${one.path}`, arrivalHtml(one, at)),
      'Nothing is arriving.',
      arrivalTotals.pending,
    ),
    ...(cards.length + unseen.length === 0 ? [] : [block('cards', '<h3>Cards</h3>')]),
    ...limited('cards', cardsByTrouble(cards), (card) => block(`card:${card.id}`, cardHtml(card, at)), null),
    ...(cards.length === 0 ? [] : [block('leave', text(NO_LEAVE))]),
    ...limited(
      'unseen',
      unseenSentences(unseen).map((sentence, place) => ({ sentence, place })),
      (one) => block(`unseen:${one.place}`, text(one.sentence)),
      null,
    ),
    block(
      'arrivals:basis',
      paragraphWith(null, 'How it is known what has arrived:', {
        id: 'basis-arrivals',
        about: 'what arrives',
        sentences: arrivalBasis(),
      }),
    ),
  ];
}

function arrivalHtml(arrival: ArrivalSnapshot, at: string): string {
  const todo = ARRIVAL_WORDS[arrival.reason].todo;
  const advice = isHalted(arrival) && todo !== null ? ` ${todo}` : '';
  return `<p><b>${escapeHtml(arrival.path)}</b> ${STAGE_WORDS[arrival.state]}: ${escapeHtml(`${arrivalSentence(arrival, at)}.${advice}`)}</p>`;
}

/** How far it has come is told of a card that is being copied: its inventory says how much there is to come. */
function cardHtml(card: CardSnapshot, at: string): string {
  const { arrived, complete, files, name, wasComplete } = card;
  const bar =
    complete !== false || wasComplete || files === 0
      ? ''
      : barHtml(arrived, files, files, `${name}: files that have arrived, of all on the card`);
  return `${text(cardSentences(card, at).join(' '))}${bar}`;
}

/** What is here? */
export function projectBlocks({ projects, at }: Snapshot): Block[] {
  const shown = largestFirst(projects).map((project, place) => ({ project, place }));
  return limited(
    'projects',
    shown,
    ({ project, place }) => block(`project:${project.volume}:${project.name}`, projectHtml(project, place, at)),
    'None yet.',
  );
}

function projectHtml(project: ProjectSnapshot, place: number, at: string): string {
  const { name, volume, gone } = project;
  const plot = gone
    ? ''
    : `<details data-keep="plot:${escapeHtml(`${volume}:${name}`)}"><summary>Footage by day and format</summary>${plotHtml('formats', { volume, project: name }, `${name}: what was recorded on each day, by format`)}</details>`;
  const said = paragraphWith(`${name} (${volume})`, projectSentence(project, at), {
    id: `basis-project-${place}`,
    about: `the footprint of ${name}`,
    sentences: projectBasis(project),
  });
  return `${said}${plot}`;
}

/** `total`: how many there are, where the list has only some. `none`: what is said of nothing. */
function limited<Item>(
  key: string,
  items: readonly Item[],
  show: (item: Item) => Block,
  none: string | null,
  total = items.length,
): Block[] {
  if (items.length === 0) return none === null ? [] : [block(`${key}:none`, text(none))];
  const more = total - Math.min(items.length, SHOWN);
  return [...items.slice(0, SHOWN).map(show), ...(more > 0 ? [block(`${key}:more`, text(`and ${more} more`))] : [])];
}
