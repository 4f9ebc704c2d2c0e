import type { FileRecord } from '../../core/model.ts';
import type { NewMessage } from '../../core/notify/queue-port.ts';
import type { FilesPage, StoredAdvisory } from '../../core/store-ports.ts';
import { openCandidates } from './candidates.ts';
import { openCardLists } from './card-lists.ts';
import { openCatalogueReads } from './catalogue-reads.ts';
import { openCatalogueWrites } from './catalogue-writes.ts';
import { openContentSums } from './content-sums.ts';
import { openCopyRows } from './copy-rows.ts';
import { openCopyTallies } from './copy-tallies.ts';
import { openForget } from './forget.ts';
import { openGrowthRows } from './growth-rows.ts';
import { type HistoryRows, openHistoryRows } from './history-rows.ts';
import { openInventories } from './inventories.ts';
import { openInventoryLists } from './inventory-lists.ts';
import { openJoins } from './joins.ts';
import { openKeptCards } from './kept-cards.ts';
import { openKeptTexts } from './kept-texts.ts';
import { openLedgerQueries } from './ledger-queries.ts';
import { openMessageRows } from './message-rows.ts';
import type { Answer, StoreTable } from './method-table.ts';
import { openMove } from './move.ts';
import { openMulticamSearch } from './multicam-search.ts';
import type { OpenState } from './open.ts';
import { openPlans } from './plan-rows.ts';
import { openPlotMethods } from './plot-methods.ts';
import { openProjects } from './project-sums.ts';
import { openReadingRows } from './reading-rows.ts';
import { openRemovals } from './removals.ts';
import { openReportedRows } from './reported-rows.ts';
import { openShelfRows } from './shelf-rows.ts';
import { openSpeedSamples } from './speed-samples.ts';
import { openSums } from './sums.ts';

const DONE: Answer<null, never> = { value: null, list: [] };

/** Prepares every statement once and binds each method to its query. */
export function openMethods({ database }: Pick<OpenState, 'database'>): StoreTable {
  const sums = openSums(database);
  const reads = openCatalogueReads(database, sums);
  const writes = openCatalogueWrites(database, sums);
  const kept = openKeptTexts(database);
  const forget = openForget(database, writes);
  const cards = openCardLists(database);
  const joinTakes = openJoins(database, { clips: writes.clips, sums, listsOf: cards.of });
  const moveFiles = openMove(database, writes);
  const messages = openMessageRows(database);
  const ledger = openLedgerQueries(database, messages);
  const { candidates, filesAt } = openCandidates(database);
  const removals = openRemovals(database);
  const inventories = openInventories(database);
  const lists = openInventoryLists(database);
  const keptCards = openKeptCards(database);
  const samples = openSpeedSamples(database);
  const growth = openGrowthRows(database);
  const history = openHistoryRows(database);
  const copies = openCopyRows(database);
  const tallies = openCopyTallies(database);
  const contents = openContentSums(database, copies);
  const shelves = openShelfRows(database);
  const readings = openReadingRows(database);
  const reported = openReportedRows(database);
  const plans = openPlans(database);
  const multicam = openMulticamSearch(database);
  const projects = openProjects(database, sums, ledger.isLost);
  return {
    compareListing({ volume, dir, dirs }, files) {
      const { places, gone } = reads.compareListing(volume, dir, files, dirs);
      return { value: places, list: gone };
    },
    compareFiles: ({ volume }, files) => valueOnly(reads.compareFiles(volume, files)),
    putFiles: ({ at }, files) => listed(writes.putFiles(files, at)),
    filesOfUnits: ({ volume }, units) => listed(reads.filesOfUnits(volume, units)),
    unfinished: ({ volume, only, after }) => paged(reads.unfinished(volume, only, after)),
    filesBelow: ({ volume, only, after }, paths) => paged(reads.filesBelow(volume, paths, only, after)),
    finishUnit({ volume, unit, clips, looked, at }, files) {
      writes.finishUnit(volume, unit, { files: files.slice(0, looked), beside: files.slice(looked), clips }, at);
      return DONE;
    },
    moveFiles: ({ volume, at }, moves) => valueOnly(moveFiles(volume, moves, at)),
    forget: ({ volume, only, at }, paths) => valueOnly(forget(volume, paths, { only, at })),
    putCardLists({ volume }, lists) {
      cards.put(volume, lists);
      return DONE;
    },
    joinTakes: () => valueOnly(joinTakes()),
    projects: (wanted) => listed(projects.sums(wanted)),
    clips: (query) => listed(reads.clips(query)),
    lacking: ({ volume, newest }) => listed(reads.lacking(volume, newest)),
    undecoded: ({ volume, newest }) => listed(reads.undecoded(volume, newest)),
    multicam({ volume, project, known }) {
      const { sessions, ...value } = multicam(volume, project, known);
      return { value, list: sessions };
    },
    counts: ({ volume }) => valueOnly(reads.counts(volume)),
    recall: ({ key }) => valueOnly(kept.recall(key)),
    remember({ key, value }) {
      kept.remember(key, value);
      return DONE;
    },
    condition: () => valueOnly(ledger.isLost() ? 'lost' : 'sound'),
    advisories: () => listed(ledger.advisories()),
    putAdvisories({ advisories }, list) {
      ledger.putAdvisories(list.slice(0, advisories) as StoredAdvisory[], list.slice(advisories) as NewMessage[]);
      return DONE;
    },
    resumeMessages: (_, channels) => valueOnly(messages.resume(channels)),
    nextMessage: ({ channel, least }) => valueOnly(messages.next(channel, least)),
    beginMessage({ seq }) {
      messages.begin(seq);
      return DONE;
    },
    endMessage({ seq, end }) {
      messages.end(seq, end);
      return DONE;
    },
    withdrawMessages(_, advisories) {
      messages.withdraw(advisories);
      return DONE;
    },
    reportsOf: ({ channel, day, now }) => valueOnly(messages.reportsOf(channel, day, now)),
    beginReports({ channel, day, now }) {
      messages.beginReports(channel, day, now);
      return DONE;
    },
    putReport: (report) => valueOnly(messages.putReport(report)),
    ...historyMethods(history),
    speedSamples: () => listed(samples.all()),
    putSpeedSample(kept) {
      samples.put(kept);
      return DONE;
    },
    growth({ volume, sinceHour }) {
      const { mark, hours } = growth.get(volume, sinceHour);
      return { value: mark, list: hours };
    },
    putGrowth({ volume, mark }, hours) {
      growth.put(volume, mark, hours);
      return DONE;
    },
    footageHours: ({ volume, project }) => listed(growth.footageHours(volume, project)),
    ...openPlotMethods(database),
    plans: () => listed(plans.all()),
    putPlan(kept) {
      plans.put(kept);
      return DONE;
    },
    dropPlans: ({ project }) => valueOnly(plans.drop(project)),
    shelves: () => listed(shelves.shelves()),
    putShelf(shelf) {
      shelves.putShelf(shelf);
      return DONE;
    },
    backlog({ volume, shelf, rank, after }) {
      const { files, next } = copies.backlog(volume, shelf, rank, after);
      return { value: next, list: files };
    },
    backlogSum: ({ volume, shelf }) => valueOnly(copies.backlogSum(volume, shelf)),
    putCopies(_, kept) {
      copies.put(kept);
      return DONE;
    },
    putVersions(_, versions) {
      copies.putVersions(versions);
      return DONE;
    },
    moveCopy({ shelf, from, to }) {
      copies.move(shelf, from, to);
      return DONE;
    },
    stalest: ({ scope, before, after, most }) => listed(readings.stalest(scope, before, after, most)),
    tally: ({ scope, before }) => valueOnly(readings.tally(scope, before)),
    unreported({ volume, name, rank, after }) {
      const { files, next } = reported.unreported(volume, name, rank, after);
      return { value: next, list: files };
    },
    putReported(_, copies) {
      reported.put(copies);
      return DONE;
    },
    unreadReports: ({ volume, name, most }) => listed(reported.unread(volume, name, most)),
    settleReports(_, reports) {
      reported.settle(reports);
      return DONE;
    },
    reportedSums: () => listed(reported.sums()),
    lateCopies: ({ shelf, volume, before }) => valueOnly(readings.late(shelf, volume, before)),
    goodCopies: (content) => listed(readings.goodCopies(content)),
    unlisted: ({ shelf, volume, most }) => listed(shelves.unlisted(shelf, volume, most)),
    putListed({ shelf }, paths) {
      copies.putListed(shelf, paths);
      return DONE;
    },
    altered: ({ shelf, volume }) => listed(shelves.altered(shelf, volume)),
    badCopies: ({ shelf, volume, most }) => listed(shelves.bad(shelf, volume, most)),
    dropCopies({ shelf }, paths) {
      copies.drop(shelf, paths);
      return DONE;
    },
    putReads({ shelf }, reads) {
      copies.putReads(shelf, reads);
      return DONE;
    },
    shelfSums: () => listed(shelves.sums()),
    projectCopies({ wanted, readSince }) {
      const found = projects.copies(wanted, readSince);
      return { value: found === null ? 'lost' : 'sound', list: found ?? [] };
    },
    lostFiles: ({ volume, project, shelf }) => listed(shelves.lost(volume, project, shelf)),
    backupNote: ({ key }) => valueOnly(shelves.note(key)),
    putBackupNote({ key, text }) {
      shelves.putNote(key, text);
      return DONE;
    },
    removals: ({ volume, since }) => listed(removals.since(volume, since)),
    candidates: (_, files) => listed(candidates(files)),
    filesAt: (_, places) => listed(filesAt(places)),
    copiesAt: (_, places) => valueOnly(tallies.at(places)),
    copiesBelow: ({ volume, folder, deep }) => valueOnly(tallies.below(volume, folder, deep)),
    versionsAt: (_, places) => listed(contents.at(places)),
    versionsBelow({ volume, folder, most }) {
      const found = contents.below(volume, folder, most);
      return { value: found !== null, list: found ?? [] };
    },
    putRead(_, versions) {
      contents.put(versions);
      return DONE;
    },
    inventoryHeads: () => listed(inventories.heads()),
    inventoryFiles: ({ id }) => listed(inventories.filesOf(id)),
    putInventory(head, files) {
      inventories.put(head, files);
      return DONE;
    },
    dropInventory: ({ id }) => valueOnly(inventories.drop(id)),
    inventoryLists: () => listed(lists.heads()),
    inventoryListFiles: ({ inventory, place }) => listed(lists.filesOf(inventory, place)),
    putInventoryList(head, files) {
      lists.put(head, files);
      return DONE;
    },
    keptCards: () => listed(keptCards.all()),
    putKeptCard(said) {
      keptCards.put(said);
      return DONE;
    },
    dropKeptCard: ({ inventory }) => valueOnly(keptCards.drop(inventory)),
    cardNotes: () => listed(inventories.notes()),
    putCardNote(note) {
      inventories.putNote(note);
      return DONE;
    },
  };
}

function historyMethods(
  history: HistoryRows,
): Pick<
  StoreTable,
  'arrived' | 'notDecoded' | 'hasOlder' | 'copiesRead' | 'endedRuns' | 'putEndedRun' | 'news' | 'putNews'
> {
  return {
    arrived: (span) => listed(history.arrived(span)),
    notDecoded: ({ span, most }) => listed(history.notDecoded(span, most)),
    hasOlder: ({ volume, at }) => valueOnly(history.hasOlder(volume, at)),
    copiesRead: ({ shelf, span }) => listed(history.copiesRead(shelf, span)),
    endedRuns: (span) => listed(history.runs(span)),
    putEndedRun({ run, endedAt }) {
      history.putRun(run, endedAt);
      return DONE;
    },
    news: (span) => listed(history.news(span)),
    putNews(news) {
      history.putNews(news);
      return DONE;
    },
  };
}

function valueOnly<Value>(value: Value): Answer<Value, never> {
  return { value, list: [] };
}

function paged({ files, next }: FilesPage): Answer<string | null, FileRecord> {
  return { value: next, list: files };
}

function listed<Listed>(list: Listed[]): Answer<null, Listed> {
  return { value: null, list };
}
