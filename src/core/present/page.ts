import { backupSentence, onlySentence, shelfSentence } from './backup-words.ts';
import { NO_LEAVE } from './card-copies.ts';
import { cardSentences, unseenSentences } from './card-sentences.ts';
import { commandSentence, reportedSentence } from './command-words.ts';
import { onCardsSentence } from './kept-card.ts';
import { layoutSentence } from './layout-words.ts';
import { cardsByTrouble, isHalted, largestFirst, pendingArrivals } from './order.ts';
import { outlookSentences } from './outlook-words.ts';
import { overrunSentences } from './overrun-words.ts';
import { roomPlot } from './room-plot.ts';
import {
  arrivalSentence,
  lossSentence,
  projectSentence,
  removedSentence,
  roomNotes,
  roomSentence,
  shortTime,
  stateSentence,
} from './sentences.ts';
import type { AdvisorySnapshot, ArrivalSnapshot, Snapshot } from './snapshot.ts';
import type { ProjectSnapshot } from './snapshot-project.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';
import { loadSentence, playSentence } from './speed-sentences.ts';
import { verifySentence } from './verify-words.ts';
import { ARRIVAL_WORDS, SEVERITY_WORDS, STAGE_WORDS } from './wording.ts';

/** How often the page asks again, in seconds. */
const REFRESH = 5;

/** So many arrivals and projects are shown; the rest is counted. */
const SHOWN = 100;

/**
 * The snapshot as one page without scripts: advisories, then Speed, Capacity and Safety of each volume, Arrivals,
 * Projects. Everything in it was escaped for display; here it is escaped for HTML. `more`: further sections, as HTML.
 */
export function htmlPage(snapshot: Snapshot, more = ''): string {
  const { advisories, arrivals, arrivalTotals, at, projects, volumes } = snapshot;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="refresh" content="${REFRESH}">
<title>${escapeHtml(titleOf(snapshot))}</title>
<style>${STYLE}</style>
</head>
<body>
<header><h1>headroomd</h1><p>as of ${escapeHtml(`${at.slice(0, 10)} ${at.slice(11, 19)}`)}; this page asks again every ${REFRESH} s</p></header>
<main>
<section aria-labelledby="now"><h2 id="now">Now</h2>${advisories.length === 0 ? '<p>Nothing to warn of.</p>' : advisories.map((one) => advisoryHtml(one, at)).join('')}</section>
${section('Speed', volumes.map(speedHtml))}
${section(
  'Capacity',
  volumes.map((volume) => capacityHtml(volume, at)),
)}
${section('Safety', [
  ...volumes.flatMap((volume) => [
    paragraph(volume.name, safetyWords(volume, at)),
    ...outlookSentences(volume, at).map(text),
  ]),
  ...snapshot.backups.map((run) => text(backupSentence(run, at))),
  ...snapshot.commands.flatMap((one) => [reportedSentence(one, at), commandSentence(one, at) ?? []].flat().map(text)),
  ...snapshot.verifications.map((run) => text(verifySentence(run, at))),
  ...snapshot.shelves.map((shelf) => paragraph(shelf.name, shelfSentence(shelf, at))),
  ...snapshot.onlyOnShelves.map((only) => text(onlySentence(only))),
])}
${section('Arrivals', [
  ...limited(pendingArrivals(arrivals), (one) => arrivalHtml(one, at), 'Nothing is arriving.', arrivalTotals.pending),
  ...cardsHtml(snapshot),
])}
${section(
  'Projects',
  limited(largestFirst(projects), (one) => projectHtml(one, at), 'None yet.'),
)}
${more}
</main>
<footer><p>headroomd warns; it does not replace a second copy. Never erase a card on its word alone. Version ${escapeHtml(snapshot.version)}.</p></footer>
</body>
</html>
`;
}

/** What would be lost, and what of it lies on cards still. */
function safetyWords(volume: VolumeSnapshot, at: string): string {
  return [lossSentence(volume, at), onCardsSentence(volume.safety, at)]
    .filter((sentence) => sentence !== null)
    .join(' ');
}

/** Safe between tags and in quoted attributes. */
function escapeHtml(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}

/** The worst first, so that a tab tells it. */
function titleOf({ advisories, volumes }: Snapshot): string {
  const [worst] = advisories;
  return `${worst === undefined ? '' : `${SEVERITY_WORDS[worst.severity]}: `}${volumes.map(({ name }) => name).join(', ')} - headroomd`;
}

function section(name: string, parts: readonly string[]): string {
  const id = name.toLowerCase();
  return `<section aria-labelledby="${id}"><h2 id="${id}">${name}</h2>${parts.join('')}</section>`;
}

/** `total`: how many there are, where the list has only some. */
function limited<Item>(
  items: readonly Item[],
  show: (item: Item) => string,
  none: string,
  total = items.length,
): string[] {
  if (items.length === 0) return [`<p>${none}</p>`];
  const more = total - Math.min(items.length, SHOWN);
  return [...items.slice(0, SHOWN).map(show), ...(more > 0 ? [`<p>and ${more} more</p>`] : [])];
}

function advisoryHtml({ message, remedies, severity, since }: AdvisorySnapshot, at: string): string {
  const todo = remedies.map(({ action, effect }) => `<li>${escapeHtml(`${action}: ${effect}.`)}</li>`).join('');
  return `<article class="${severity}"><p><strong>${SEVERITY_WORDS[severity]}</strong> ${escapeHtml(message)} (Since ${escapeHtml(shortTime(since, at))}.)</p>${todo === '' ? '' : `<ul>${todo}</ul>`}</article>`;
}

function paragraph(name: string, sentence: string): string {
  return `<p><b>${escapeHtml(name)}</b> ${escapeHtml(sentence)}</p>`;
}

function speedHtml(volume: VolumeSnapshot): string {
  const { demandBps, readBudgetBps } = volume.speed;
  const state = stateSentence(volume);
  const load = loadSentence(volume);
  const layout = layoutSentence(volume);
  const bar =
    demandBps === null || readBudgetBps === null || readBudgetBps <= 0
      ? ''
      : barHtml(
          demandBps,
          readBudgetBps,
          Math.max(demandBps, readBudgetBps * 1.25),
          'needed, against what may be asked for',
        );
  return `${state === null ? '' : paragraph(volume.name, state)}${paragraph(volume.name, playSentence(volume))}${bar}${load === null ? '' : text(load)}${layout === null ? '' : text(layout)}`;
}

function capacityHtml(volume: VolumeSnapshot, at: string): string {
  const { availableBytes, reserveBytes, usedBytes } = volume.capacity;
  const writable = (usedBytes ?? 0) + (availableBytes ?? 0);
  const bar =
    usedBytes === null || availableBytes === null || reserveBytes === null || writable <= 0
      ? ''
      : barHtml(usedBytes, writable - reserveBytes, writable, 'in use, against the line of the reserve');
  const removed = removedSentence(volume);
  return `${paragraph(volume.name, roomSentence(volume))}${bar}${roomNotes(volume).map(text).join('')}${overrunSentences(volume, at).map(text).join('')}${roomPlot(volume, at)}${removed === null ? '' : text(removed)}`;
}

/** A bar from 0 to `end`, filled to `value`, with a line at `limit`. The sentence above says the same in words. */
function barHtml(value: number, limit: number, end: number, label: string): string {
  const share = (part: number) => (100 * Math.min(Math.max(part / end, 0), 1)).toFixed(2);
  return `<svg role="img" aria-label="${label}" viewBox="0 0 100 6" preserveAspectRatio="none"><rect class="all" width="100" height="6"/><rect class="${value > limit ? 'over' : 'used'}" width="${share(value)}" height="6"/><rect class="line" x="${share(limit)}" width="0.5" height="6"/></svg>`;
}

function arrivalHtml(arrival: ArrivalSnapshot, at: string): string {
  const todo = ARRIVAL_WORDS[arrival.reason].todo;
  const advice = isHalted(arrival) && todo !== null ? ` ${todo}` : '';
  return `<p><b>${escapeHtml(arrival.path)}</b> ${STAGE_WORDS[arrival.state]}: ${escapeHtml(`${arrivalSentence(arrival, at)}.${advice}`)}</p>`;
}

/** Nothing at all where there is nothing to tell. */
function cardsHtml({ cards, unseen, at }: Snapshot): string[] {
  if (cards.length + unseen.length === 0) return [];
  return [
    '<h3>Cards</h3>',
    ...(cards.length === 0
      ? []
      : limited(cardsByTrouble(cards), (card) => text(cardSentences(card, at).join(' ')), '')),
    ...(cards.length === 0 ? [] : [text(NO_LEAVE)]),
    ...(unseen.length === 0 ? [] : limited(unseenSentences(unseen), text, '')),
  ];
}

function text(sentence: string): string {
  return `<p>${escapeHtml(sentence)}</p>`;
}

function projectHtml(project: ProjectSnapshot, at: string): string {
  return paragraph(`${project.name} (${project.volume})`, projectSentence(project, at));
}

const STYLE = `
:root{color-scheme:light dark;--ink:#1b1d21;--paper:#f7f6f3;--soft:#5a5f68;--rule:#cfccc4;--fill:#46688c;--over:#a33b2a}
@media (prefers-color-scheme:dark){:root{--ink:#e8e6e1;--paper:#16181b;--soft:#a3a8b0;--rule:#3a3e44;--fill:#7fa4cc;--over:#e58a78}}
body{margin:0 auto;max-width:60rem;padding:1rem;background:var(--paper);color:var(--ink);font:1rem/1.5 system-ui,sans-serif;overflow-wrap:anywhere}
header{display:flex;flex-wrap:wrap;gap:0 1rem;align-items:baseline}header p,footer{color:var(--soft)}
h1{font-size:1.2rem;margin:.2rem 0}h2{font-size:1rem;margin:1.6rem 0 .2rem;border-bottom:1px solid var(--rule)}h3{font-size:1rem;margin:1rem 0 .2rem}p{margin:.4rem 0}
article{border-left:.3rem solid var(--rule);padding-left:.8rem;margin:.6rem 0}article.warning,article.critical{border-color:var(--over)}
ul{margin:.2rem 0}svg{display:block;width:100%;height:.8rem;margin:.2rem 0 .8rem}.all{fill:var(--rule)}.used{fill:var(--fill)}.over{fill:var(--over)}.line{fill:var(--ink)}.plot{height:7rem;margin-bottom:0}.band{fill:var(--fill);opacity:.25}.way{fill:none;stroke:var(--fill);stroke-width:2px;stroke-dasharray:6 4;vector-effect:non-scaling-stroke}.dates{position:relative;display:flex;font-size:.8rem;color:var(--soft);margin:0 0 .8rem}.dates .now{position:absolute;transform:translateX(-50%)}.dates span:last-child{margin-left:auto}`;
