import { formatAge, formatBytes, formatCount } from '../units.ts';
import { advisorySentence, bySnooze, snoozedCount, snoozedLines } from './advisory-words.ts';
import { backupSentence } from './backup-words.ts';
import { NO_LEAVE } from './card-copies.ts';
import { cardSentences, unseenSentences } from './card-sentences.ts';
import { display } from './escape.ts';
import { onCardsSentence } from './kept-card.ts';
import { layoutSentence } from './layout-words.ts';
import { cardsByTrouble, largestFirst, pendingArrivals } from './order.ts';
import { outlookSentences } from './outlook-words.ts';
import { overrunSentences } from './overrun-words.ts';
import {
  arrivalSentence,
  lossSentence,
  outsideSentence,
  projectSentence,
  removedSentence,
  roomNotes,
  roomSentence,
  stateSentence,
} from './sentences.ts';
import type { AdvisorySnapshot, ArrivalSnapshot, Snapshot } from './snapshot.ts';
import type { BackupSnapshot } from './snapshot-backups.ts';
import type { ProjectSnapshot } from './snapshot-project.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';
import { loadSentence, playSentence } from './speed-sentences.ts';
import { bar, wrap } from './text.ts';
import { SEVERITY_WORDS, STAGE_WORDS } from './wording.ts';

/** Columns, and how old the snapshot is in seconds when no daemon stands behind it (`null`: it is live). */
export interface ScreenOptions {
  width: number;
  /** Rows of the terminal; `null`: it need not fit (a pipe, a file). */
  rows: number | null;
  old: number | null;
}

/** So many of each are shown, the rest is counted; with or without bars. From much to little, until it fits the screen. */
const AMOUNTS = [
  { advisories: 5, remedies: 3, snoozed: 5, arrivals: 5, cards: 5, projects: 6, bars: true },
  { advisories: 3, remedies: 1, snoozed: 2, arrivals: 2, cards: 2, projects: 3, bars: true },
  { advisories: 2, remedies: 1, snoozed: 0, arrivals: 0, cards: 1, projects: 1, bars: true },
  { advisories: 1, remedies: 1, snoozed: 0, arrivals: 0, cards: 0, projects: 0, bars: false },
] as const;

type Amount = (typeof AMOUNTS)[number];

/**
 * The snapshot as one screen of plain text, no line wider than `width` (40 at least) but the page's address, and no more
 * lines than `rows` where that can be. In the order in which one asks:
 * what must I know, can I play this, how much room is left, what would I lose, what is arriving, what is here.
 */
export function statusScreen(snapshot: Snapshot, { width, rows, old }: ScreenOptions): string {
  const columns = Math.max(40, width);
  const screens = AMOUNTS.map((amount) => screenOf(snapshot, amount, old, columns));
  // The prompt that follows takes a row.
  const fits = (screen: string) => rows === null || screen.split('\n').length <= rows;
  return screens.find(fits) ?? screens.at(-1) ?? '';
}

function screenOf(snapshot: Snapshot, amount: Amount, old: number | null, columns: number): string {
  const live = old === null;
  const sections = [
    headLines(snapshot, old, columns),
    advisoryLines(snapshot, amount, columns),
    snoozeLines(snapshot, amount, columns),
    ...snapshot.volumes.map((volume) =>
      volumeLines(volume, { ...amount, live, backups: snapshot.backups ?? [] }, snapshot.at, columns),
    ),
    arrivalLines(snapshot, amount, columns),
    cardLines(snapshot, amount, columns),
    projectLines(snapshot, amount, columns),
    pageLines(snapshot, amount, columns),
  ];
  return `${sections
    .filter((lines) => lines.length > 0)
    .map((lines) => lines.join('\n'))
    .join('\n\n')}\n`;
}

function headLines({ version, at }: Snapshot, old: number | null, width: number): string[] {
  const head = wrap(`headroomd ${version}, ${at.slice(0, 10)} ${at.slice(11, 19)}`, width);
  if (old === null) return head;
  return [
    ...head,
    ...wrap(`OLD: stored ${formatAge(old)} ago by a daemon that no longer runs. Nothing below is checked now.`, width),
  ];
}

function advisoryLines({ advisories, at }: Snapshot, amount: Amount, width: number): string[] {
  const { told, snoozed } = bySnooze(advisories);
  if (told.length === 0) return [snoozed.length === 0 ? 'Nothing to warn of.' : 'Nothing new to warn of.'];
  const shown = told.slice(0, amount.advisories);
  const lines = shown.flatMap((advisory) => oneAdvisory(advisory, amount.remedies, at, width));
  return [...lines, ...andMore(told.length - shown.length, 'advisory', 'advisories', width)];
}

/** What somebody wants quiet stays in sight, below the others. */
function snoozeLines({ advisories, at }: Snapshot, amount: Amount, width: number): string[] {
  const { snoozed } = bySnooze(advisories);
  const count = snoozedCount(snoozed);
  if (count === null) return [];
  const shown = snoozed.slice(0, amount.snoozed);
  // The first is the worst.
  if (shown.length === 0) return wrap(`${count} (${snoozed[0]?.severity}): "headroomd snooze" lists them.`, width);
  return [
    `${count}:`,
    ...shown.flatMap((advisory) => snoozedLines(advisory, at, width)),
    ...andMore(snoozed.length - shown.length, 'advisory', 'advisories', width),
  ];
}

function oneAdvisory(advisory: AdvisorySnapshot, most: number, at: string, width: number): string[] {
  return [
    ...wrap(advisorySentence(advisory, at), width, `${SEVERITY_WORDS[advisory.severity]}  `),
    ...advisory.remedies.slice(0, most).flatMap(({ action, effect }) => wrap(`${action}: ${effect}.`, width, '  - ')),
  ];
}

/** Of a volume in an old snapshot nothing is said about its state: nobody looks. */
function volumeLines(
  volume: VolumeSnapshot,
  { bars, live, backups }: Amount & { live: boolean; backups: readonly BackupSnapshot[] },
  at: string,
  width: number,
): string[] {
  const state = live ? stateSentence(volume) : null;
  const removed = removedSentence(volume);
  const load = live ? loadSentence(volume) : null;
  const layout = layoutSentence(volume);
  const onCards = onCardsSentence(volume.safety, at);
  return [
    ...wrap(`${volume.name}, ${volume.path}`, width),
    ...(state === null ? [] : wrap(state, width, '  ')),
    ...wrap(playSentence(volume), width, '  Speed     '),
    ...(bars ? speedBar(volume, width - 12) : []),
    ...(load === null ? [] : wrap(load, width, '            ')),
    ...(bars && layout !== null ? wrap(layout, width, '            ') : []),
    ...wrap(roomSentence(volume), width, '  Capacity  '),
    ...(bars ? roomBar(volume, width - 12) : []),
    ...(bars ? roomNotes(volume).flatMap((note) => wrap(note, width, '            ')) : []),
    ...overrunSentences(volume, at).flatMap((sentence) => wrap(sentence, width, '            ')),
    ...(removed === null ? [] : wrap(removed, width, '            ')),
    ...wrap(lossSentence(volume, at), width, '  Safety    '),
    ...(onCards === null ? [] : wrap(onCards, width, '            ')),
    ...backups
      .filter((run) => run.volume === volume.name)
      .flatMap((run) => wrap(backupSentence(run, at), width, '            ')),
    ...(bars ? outlookSentences(volume, at).flatMap((sentence) => wrap(sentence, width, '            ')) : []),
  ];
}

function speedBar({ speed: { demandBps, readBudgetBps } }: VolumeSnapshot, width: number): string[] {
  if (demandBps === null || readBudgetBps === null || readBudgetBps <= 0) return [];
  return [`            ${bar(demandBps, readBudgetBps, Math.max(demandBps, readBudgetBps * 1.25), width)}`];
}

function roomBar({ capacity: { usedBytes, availableBytes, reserveBytes } }: VolumeSnapshot, width: number): string[] {
  if (usedBytes === null || availableBytes === null || reserveBytes === null) return [];
  const writable = usedBytes + availableBytes;
  return writable <= 0 ? [] : [`            ${bar(usedBytes, writable - reserveBytes, writable, width)}`];
}

/** Of very many arrivals the snapshot has only some. One stored by an earlier version has all, and no totals. */
function arrivalLines(
  { arrivals, arrivalTotals, at }: Partial<Snapshot> & Pick<Snapshot, 'arrivals' | 'at'>,
  amount: Amount,
  width: number,
): string[] {
  const pending = pendingArrivals(arrivals);
  const ready = arrivals.length - pending.length;
  const came = ready === 0 ? '' : `; ${ready} became ready in the last minute`;
  if (pending.length === 0) return wrap(`Arrivals: none under way${came}.`, width);
  const shown = pending.slice(0, amount.arrivals);
  const total = Math.max(pending.length, arrivalTotals?.pending ?? 0);
  const count = formatCount(total, 'file or sequence', 'files or sequences');
  return [
    ...wrap(`Arrivals: ${count} not ready${came}.`, width),
    ...shown.flatMap((arrival) => oneArrival(arrival, at, width)),
    // With none shown the first line has counted them all.
    ...(shown.length === 0 ? [] : andMore(total - shown.length, 'arrival', 'arrivals', width)),
  ];
}

function oneArrival(arrival: ArrivalSnapshot, at: string, width: number): string[] {
  return [
    ...wrap(arrival.path, width, `  ${STAGE_WORDS[arrival.state]}  `),
    ...wrap(arrivalSentence(arrival, at), width, '    '),
  ];
}

/** Nothing at all where there is nothing to tell. A snapshot stored by an earlier version knows no cards. */
function cardLines({ cards = [], unseen = [], at }: Snapshot, amount: Amount, width: number): string[] {
  if (cards.length + unseen.length === 0) return [];
  const lacking = cards.filter(({ missingFootage }) => missingFootage > 0).length;
  const shown = cardsByTrouble(cards).slice(0, amount.cards);
  const copied = unseenSentences(unseen);
  const shownCopied = copied.slice(0, amount.cards);
  const copiedCards = unseen.filter(({ layout }) => layout !== null).length;
  const counts = [
    cards.length === 0 ? 'none was seen' : formatCount(cards.length, 'card or list', 'cards and lists'),
    ...(lacking === 0 ? [] : [`${lacking} with footage that is not here`]),
    ...(copiedCards === 0 ? [] : [`${formatCount(copiedCards, 'copied card was', 'copied cards were')} never seen`]),
  ];
  return [
    ...wrap(`Cards: ${counts.join(', ')}.${shown.length === 0 ? '' : ` ${NO_LEAVE}`}`, width),
    ...shown.flatMap((card) => wrap(cardSentences(card, at).join(' '), width, '  ')),
    ...andMoreCards(cards.length - shown.length, shown.length, width),
    ...shownCopied.flatMap((sentence) => wrap(sentence, width, '  ')),
    ...andMoreCards(copied.length - shownCopied.length, shownCopied.length, width),
  ];
}

/** With none shown the first line has counted them all. */
function andMoreCards(count: number, shown: number, width: number): string[] {
  return shown === 0 ? [] : andMore(count, 'card', 'cards', width);
}

function projectLines({ projects, volumes, at }: Snapshot, amount: Amount, width: number): string[] {
  const outside = volumes.map(outsideSentence).filter((sentence) => sentence !== null);
  const outsideLines = outside.flatMap((sentence) => wrap(sentence, width, '  '));
  if (projects.length === 0) return ['Projects: none yet.', ...outsideLines];
  const largest = largestFirst(projects);
  const shown = largest.slice(0, amount.projects);
  if (shown.length === 0) return [...wrap(`Projects: ${countAndBytes('project', largest)}.`, width), ...outsideLines];
  return [
    'Projects:',
    ...shown.flatMap((project) => oneProject(project, at, width)),
    ...otherProjects(largest.slice(shown.length), width),
    ...outsideLines,
  ];
}

function oneProject(project: ProjectSnapshot, at: string, width: number): string[] {
  return wrap(`${project.name} (${project.volume}): ${projectSentence(project, at)}`, width, '  ');
}

function otherProjects(projects: readonly ProjectSnapshot[], width: number): string[] {
  return projects.length === 0 ? [] : wrap(`and ${countAndBytes('more project', projects)}`, width, '  ');
}

function countAndBytes(what: string, projects: readonly ProjectSnapshot[]): string {
  const bytes = projects.reduce((sum, project) => sum + project.bytes, 0);
  const gone = projects.filter((project) => project.gone).length;
  const only = gone === 0 ? '' : `, ${gone} of them only on shelves`;
  return `${formatCount(projects.length, what)} with ${formatBytes(bytes)}${only}`;
}

function pageLines({ page }: Snapshot, { bars }: Amount, width: number): string[] {
  return [
    ...(bars ? wrap('In the bars, = is used or needed and | is as far as it may go.', width) : []),
    // Never broken: it is there to be clicked or copied.
    `Page: ${page === null ? 'off' : display(page)}`,
  ];
}

function andMore(count: number, one: string, many: string, width: number): string[] {
  if (count <= 0) return [];
  return wrap(
    `and ${formatCount(count, `more ${one}`, `more ${many}`)}; the page and status --json have all`,
    width,
    '  ',
  );
}
