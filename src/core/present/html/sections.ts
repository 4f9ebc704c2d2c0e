import { advisorySentence, bySnooze, snoozedCount, snoozeSentence } from '../advisory-words.ts';
import { backupSentence, onlySentence, shelfSentence } from '../backup-words.ts';
import { NO_LEAVE } from '../card-copies.ts';
import { cardSentences, unseenSentences } from '../card-sentences.ts';
import { commandSentence, reportedSentence } from '../command-words.ts';
import { onCardsSentence } from '../kept-card.ts';
import { layoutSentence } from '../layout-words.ts';
import { cardsByTrouble, isHalted, largestFirst, pendingArrivals } from '../order.ts';
import { outlookSentences } from '../outlook-words.ts';
import { overrunSentences } from '../overrun-words.ts';
import {
  arrivalSentence,
  lossSentence,
  projectSentence,
  removedSentence,
  roomNotes,
  roomSentence,
} from '../sentences.ts';
import type { AdvisorySnapshot, ArrivalSnapshot, Snapshot } from '../snapshot.ts';
import type { CardSnapshot } from '../snapshot-cards.ts';
import type { ProjectSnapshot } from '../snapshot-project.ts';
import type { VolumeSnapshot } from '../snapshot-volume.ts';
import { loadSentence, playSentence } from '../speed-sentences.ts';
import { verifySentence } from '../verify-words.ts';
import { ARRIVAL_WORDS, SEVERITY_WORDS, STAGE_WORDS } from '../wording.ts';
import { arrivalBasis, projectBasis, roomBasis, safetyBasis, speedBasis } from './basis.ts';
import type { Block, PageSection, PageState } from './block.ts';
import { actionHtml, barHtml, escapeHtml, paragraph, paragraphWith, plotHtml, text } from './elements.ts';
import { glanceHtml } from './glance.ts';

/** So many arrivals, cards and projects are shown; the rest is counted. */
const SHOWN = 100;

/** Everything on the page, in the order in which one asks. All texts of the snapshot are escaped for display already. `more`: sections after it. */
export function pageState(snapshot: Snapshot, more: readonly PageSection[] = []): PageState {
  const { at } = snapshot;
  return {
    title: titleOf(snapshot),
    when: `as of ${at.slice(0, 10)} ${at.slice(11, 19)}`,
    sections: [
      {
        id: 'headroom',
        title: 'Headroom',
        blocks: snapshot.volumes.map((one) => block(`headroom:${one.name}`, glanceHtml(one, at))),
      },
      { id: 'now', title: 'Now', blocks: advisoryBlocks(snapshot) },
      { id: 'speed', title: 'Speed', blocks: snapshot.volumes.flatMap(speedBlocks) },
      {
        id: 'capacity',
        title: 'Capacity',
        blocks: [...snapshot.volumes.flatMap((one, place) => capacityBlocks(one, place, at)), block('plan', PLAN)],
      },
      { id: 'safety', title: 'Safety', blocks: safetyBlocks(snapshot) },
      { id: 'arrivals', title: 'Arrivals', blocks: arrivalBlocks(snapshot) },
      { id: 'projects', title: 'Projects', blocks: projectBlocks(snapshot) },
      ...more,
    ] satisfies PageSection[],
  };
}

/** The worst that speaks first, so that a tab tells it. */
function titleOf({ advisories, volumes }: Snapshot): string {
  const [worst] = bySnooze(advisories).told;
  return `${worst === undefined ? '' : `${SEVERITY_WORDS[worst.severity]}: `}${volumes.map(({ name }) => name).join(', ')} - headroomd`;
}

function block(key: string, html: string): Block {
  return { key, html };
}

/** What somebody wants quiet stays in sight, below the others. */
function advisoryBlocks({ advisories, at }: Snapshot): Block[] {
  const { told, snoozed } = bySnooze(advisories);
  const count = snoozedCount(snoozed);
  const shown = (one: AdvisorySnapshot) => block(`advisory:${one.id}`, advisoryHtml(one, at));
  return [
    ...(told.length === 0
      ? [block('quiet', `<p>Nothing ${count === null ? '' : 'new '}to warn of.</p>`)]
      : told.map(shown)),
    ...(count === null ? [] : [block('snoozed', `<h3>${count}</h3>`), ...snoozed.map(shown)]),
  ];
}

function advisoryHtml(advisory: AdvisorySnapshot, at: string): string {
  const { code, remedies, severity } = advisory;
  const snooze = snoozeSentence(advisory, at);
  const todo = remedies.map(({ action, effect }) => `<li>${escapeHtml(`${action}: ${effect}.`)}</li>`).join('');
  const act =
    snooze === null
      ? actionHtml('Snooze', 'snooze', { name: code }, `Snooze ${code}`)
      : actionHtml('Tell again', 'lift', { name: code }, `Tell ${code} again`);
  return `<article class="${snooze === null ? severity : 'snoozed'}"><p><strong>${SEVERITY_WORDS[severity]}</strong> ${escapeHtml(advisorySentence(advisory, at))} ${act}</p>${snooze === null ? '' : text(snooze)}${todo === '' ? '' : `<ul>${todo}</ul>`}</article>`;
}

function speedBlocks(volume: VolumeSnapshot, place: number): Block[] {
  const load = loadSentence(volume);
  const layout = layoutSentence(volume);
  const said = [
    paragraphWith(volume.name, playSentence(volume), {
      id: `basis-speed-${place}`,
      about: `the speed of ${volume.name}`,
      sentences: speedBasis(volume),
    }),
    ...(load === null ? [] : [text(load)]),
    ...(layout === null ? [] : [text(layout)]),
  ];
  return [
    block(`speed:${volume.name}`, said.join('')),
    block(
      `speed-plot:${volume.name}`,
      plotHtml(
        'speed',
        { volume: volume.name },
        `${volume.name}, the last 24 hours: what had to be read, and what its drives gave, against what may be asked for`,
      ),
    ),
  ];
}

function capacityBlocks(volume: VolumeSnapshot, place: number, at: string): Block[] {
  const removed = removedSentence(volume);
  const said = [
    paragraphWith(volume.name, roomSentence(volume), {
      id: `basis-capacity-${place}`,
      about: `the room of ${volume.name}`,
      sentences: roomBasis(volume, at),
    }),
    ...[...roomNotes(volume), ...overrunSentences(volume, at), ...(removed === null ? [] : [removed])].map(text),
  ];
  return [
    block(`capacity:${volume.name}`, said.join('')),
    block(
      `capacity-plot:${volume.name}`,
      plotHtml(
        'room',
        { volume: volume.name },
        `${volume.name}: what is in use, and how it may go on, against the line of its reserve`,
      ),
    ),
  ];
}

function safetyBlocks(snapshot: Snapshot): Block[] {
  const { at, backups, commands, onlyOnShelves, shelves, verifications, volumes } = snapshot;
  return [
    ...volumes.flatMap((volume, place) => [
      block(
        `safety:${volume.name}`,
        [
          paragraphWith(volume.name, safetyWords(volume, at), {
            id: `basis-safety-${place}`,
            about: `the copies of ${volume.name}`,
            sentences: safetyBasis(volume, at),
          }),
          ...outlookSentences(volume, at).map(text),
        ].join(''),
      ),
      block(
        `safety-plot:${volume.name}`,
        plotHtml(
          'exposure',
          { volume: volume.name },
          `${volume.name}, the last 30 days: footage without enough verified copies; a dashed line where copies were read back`,
        ),
      ),
    ]),
    ...backups.map((run) => block(`backup:${run.volume}:${run.shelf}:${run.reason}`, text(backupSentence(run, at)))),
    ...commands.map((one, place) =>
      block(`command:${place}`, [reportedSentence(one, at), commandSentence(one, at) ?? []].flat().map(text).join('')),
    ),
    ...verifications.map((run, place) => block(`reading:${place}`, text(verifySentence(run, at)))),
    ...shelves.map((shelf) =>
      block(
        `shelf:${shelf.name}`,
        `${paragraph(shelf.name, shelfSentence(shelf, at))}${shelf.state === 'ready' || shelf.state === 'new' ? actionHtml(`Back up to ${shelf.name} now`, 'backup', { shelf: shelf.name }) : ''}`,
      ),
    ),
    ...onlyOnShelves.map((only, place) => block(`only:${place}`, text(onlySentence(only)))),
  ];
}

/** What would be lost, and what of it lies on cards still. */
function safetyWords(volume: VolumeSnapshot, at: string): string {
  return [lossSentence(volume, at), onCardsSentence(volume.safety, at)].filter((one) => one !== null).join(' ');
}

function arrivalBlocks({ arrivals, arrivalTotals, at, cards, unseen }: Snapshot): Block[] {
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

function projectBlocks({ projects, at }: Snapshot): Block[] {
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

/** Asks about a coming shoot. A script sends it; what can be asked is what `headroomd plan` takes. */
const PLAN = `<details class="act" data-keep="plan"><summary>Would a coming shoot fit?</summary><form data-form="plan" autocomplete="off">
<label>Project <input name="project" maxlength="200"></label>
<label>First day <input name="from" type="date"></label>
<label>Days <input name="days" type="number" min="1" max="366" value="1"></label>
<label>Cameras <input name="cameras" type="number" min="1" max="100" value="1"></label>
<label>Format <input name="format" maxlength="100"></label>
<label>Raster <input name="raster" placeholder="3840x2160" maxlength="20"></label>
<label>Frames a second <input name="rate" placeholder="25" maxlength="20"></label>
<label>Hours a day, each camera <input name="hours" type="number" min="0.1" max="24" step="0.1" value="4"></label>
<button type="submit">Ask</button> <button type="button" data-action="keep-plan" disabled>Keep this plan</button>
<pre class="answer" role="status" tabindex="0" aria-label="Answer" hidden></pre></form></details>`;
