import type { AnnouncedEvent } from '../advise/announce.ts';
import type { CopyState } from '../backup/copies.ts';
import type { ReadGrade } from '../backup/copy-port.ts';
import type { ReportPeriod } from '../notify/report-day.ts';
import type { AdvisoryNews, ArrivedSum, EndedRun, NotDecoded, ReadSum } from '../report-ports.ts';
import type { Removal } from '../store-ports.ts';
import { isoWithOffset } from '../units.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { isHalted } from './order.ts';
import { type ReportRun, reportRun } from './report-run.ts';
import { type Verdict, verdictOf } from './report-verdict.ts';
import type { AdvisorySnapshot, ArrivalSnapshot, Snapshot } from './snapshot.ts';
import type { BackupSnapshot, ShelfSnapshot } from './snapshot-backups.ts';
import type { CardSnapshot, UnseenSnapshot } from './snapshot-cards.ts';
import type { CommandSnapshot } from './snapshot-commands.ts';
import type { VerifySnapshot } from './snapshot-verify.ts';
import type { VolumeSnapshot } from './snapshot-volume.ts';
import { ARRIVAL_WORDS, CLEARED_WORDS } from './wording.ts';

/**
 * What a time brought, and how things stand at its end: the contract of `status --report --json`, the page's section, and what
 * is sent by mail. Keys are only ever added; `null`: not known. Every text that may hold a name is escaped.
 */
export interface Report {
  version: string;
  /** How things stood when it was made. */
  at: IsoTime;
  from: IsoTime;
  until: IsoTime;
  basis: ReportPeriod['basis'];
  /** IANA name: by whose clocks. */
  zone: string;
  /** Since when the daemon runs that tells it. */
  runningSince: IsoTime;
  verdict: Verdict;
  /** Any footage is here, outside the trash. */
  hasFootage: boolean;
  /** Footage that became ready, by project. */
  arrived: ArrivedSnapshot[];
  /** The first of it that no reader could decode. */
  notDecoded: { volume: string; project: string | null; name: string }[];
  /** Cards and lists of which anything arrived or was read. */
  cards: CardSnapshot[];
  /** What needs a person: refused, its copy stopped, or not whole as it is. */
  halted: ArrivalSnapshot[];
  /** All that is not ready, these among it. */
  pending: { count: number; bytes: number };
  /** Takes of which parts or frames are missing. */
  incomplete: { volume: string; project: string; takes: string[] }[];
  unseen: UnseenSnapshot[];
  /** To the hour, from `removedFrom` on. */
  removed: { volume: string; project: string | null; files: number; bytes: number; footageBytes: number }[];
  removedFrom: IsoTime;
  /** Copies that were made, or read again, by what was found and how surely it came from the medium. */
  copies: ReportCopies[];
  /** Backups that ended. */
  runs: ReportRun[];
  /** Backups that are under way. */
  backups: BackupSnapshot[];
  /** Programs of the user's that copy, as they stand. */
  commands: CommandSnapshot[];
  /** Readings by command that ended. */
  verifications: VerifySnapshot[];
  volumes: VolumeSnapshot[];
  /** By the name of the volume: as many verified copies are wanted, each read back within so many days. */
  wanted: Record<string, { copies: number; readWithinDays: number }>;
  shelves: ShelfSnapshot[];
  /** Those that stand. */
  advisories: AdvisorySnapshot[];
  /** What was announced, in the order in which it was. */
  news: ReportNews[];
  /** Volumes of which nothing is known that was ready before: what lay there then counts as arrived. */
  newVolumes: string[];
}

export interface ArrivedSnapshot extends Omit<ArrivedSum, 'firstAt' | 'lastAt'> {
  firstAt: IsoTime | null;
  lastAt: IsoTime | null;
  /** Names of the cards and lists that files of it are of. */
  cards: string[];
}

export interface ReportCopies {
  volume: string;
  shelf: string;
  isNew: boolean;
  grade: ReadGrade;
  state: CopyState;
  files: number;
  bytes: number;
}

export interface ReportNews {
  at: IsoTime;
  event: AnnouncedEvent;
  id: string;
  severity: AdvisorySnapshot['severity'];
  subject: string;
  message: string;
}

/** What a report is made from. */
export interface ReportFacts {
  period: ReportPeriod;
  zone: string;
  runningSince: number;
  /** How things stand; its texts are escaped. */
  snapshot: Snapshot;
  arrived: readonly ArrivedSum[];
  notDecoded: readonly NotDecoded[];
  /** Each with the projects that files of it lie in. */
  cards: readonly { card: CardSnapshot; in: readonly { volume: string; project: string | null }[] }[];
  incomplete: readonly { volume: string; project: string; takes: readonly string[] }[];
  removals: readonly { volume: string; removal: Removal }[];
  removedFrom: number;
  copies: readonly { shelf: string; sum: ReadSum }[];
  runs: readonly EndedRun[];
  wanted: Report['wanted'];
  news: readonly AdvisoryNews[];
  newVolumes: readonly string[];
}

const GOING: readonly BackupSnapshot['state'][] = ['looking', 'copying', 'paused', 're-reading'];

/** The report: escaped, and in the zone's time. */
export function reportOf(facts: ReportFacts): Report {
  const { period, zone, snapshot } = facts;
  const iso: IsoOf = (instant) => isoWithOffset(instant, zone);
  const told = {
    ...{ version: snapshot.version, at: snapshot.at, from: iso(period.from), until: iso(period.until) },
    ...{ basis: period.basis, zone, runningSince: iso(facts.runningSince) },
    ...arrivalsOf(facts, iso),
    hasFootage: hasFootage(snapshot),
    removed: removedOf(facts.removals),
    removedFrom: iso(facts.removedFrom),
    copies: facts.copies.map(({ shelf, sum }) => ({ ...sum, volume: display(sum.volume), shelf: display(shelf) })),
    runs: facts.runs.map((run) => reportRun(run, iso)),
    backups: snapshot.backups.filter(({ state }) => GOING.includes(state)),
    commands: snapshot.commands,
    verifications: snapshot.verifications.filter((run) => isWithin(run.endedAt, period)),
    ...{ volumes: snapshot.volumes, wanted: safeKeys(facts.wanted), shelves: snapshot.shelves },
    advisories: snapshot.advisories,
    news: facts.news.map((one) => newsOf(one, iso)),
    newVolumes: facts.newVolumes.map(display),
  };
  return { verdict: verdictOf(told), ...told };
}

function arrivalsOf({ snapshot, arrived, notDecoded, cards, incomplete }: ReportFacts, iso: IsoOf) {
  const instant = (at: number | null) => (at === null ? null : iso(at));
  const cardsIn = (sum: ArrivedSum) =>
    cards.flatMap((one) =>
      one.in.some(({ volume, project }) => volume === sum.volume && project === sum.project) ? [one.card.name] : [],
    );
  return {
    arrived: arrived.map((sum) => ({
      ...{ ...sum, volume: display(sum.volume), project: displayOrNull(sum.project) },
      ...{ firstAt: instant(sum.firstAt), lastAt: instant(sum.lastAt), cards: cardsIn(sum) },
    })),
    notDecoded: notDecoded.map(({ volume, project, name }) => ({
      ...{ volume: display(volume), project: displayOrNull(project), name: display(name) },
    })),
    cards: cards.map(({ card }) => card),
    halted: snapshot.arrivals.filter(needsPerson),
    pending: { count: snapshot.arrivalTotals.pending, bytes: snapshot.arrivalTotals.bytes },
    incomplete: incomplete.map(({ volume, project, takes }) => ({
      ...{ volume: display(volume), project: display(project), takes: takes.map(display) },
    })),
    unseen: snapshot.unseen,
  };
}

function hasFootage({ projects, volumes }: Snapshot): boolean {
  const isThere = ({ area, footageBytes }: VolumeSnapshot['areas'][number]) => area !== 'trash' && footageBytes > 0;
  return projects.some(({ footageBytes }) => footageBytes > 0) || volumes.some(({ areas }) => areas.some(isThere));
}

/** A copy may still bring what is missing; at the hour of a report it is told all the same. */
function needsPerson(arrival: ArrivalSnapshot): boolean {
  return isHalted(arrival) || (arrival.state !== 'ready' && ARRIVAL_WORDS[arrival.reason].todo !== null);
}

/** The hours of each project together. */
function removedOf(removals: ReportFacts['removals']): Report['removed'] {
  const sums = new Map<string, Report['removed'][number]>();
  for (const { volume, removal } of removals) {
    const { project, files, bytes, footageBytes } = removal;
    const key = JSON.stringify([volume, project]);
    const before = sums.get(key) ?? { files: 0, bytes: 0, footageBytes: 0 };
    sums.set(key, {
      ...{ volume: display(volume), project: displayOrNull(project), files: before.files + files },
      ...{ bytes: before.bytes + bytes, footageBytes: before.footageBytes + footageBytes },
    });
  }
  return [...sums.values()].filter(({ files }) => files > 0);
}

function newsOf({ event, advisory, at }: AdvisoryNews, iso: IsoOf): ReportNews {
  const message = event === 'cleared' ? CLEARED_WORDS[advisory.kind](advisory.subject) : advisory.message;
  return {
    ...{ at: iso(at), event, id: display(advisory.id), severity: advisory.severity },
    ...{ subject: display(advisory.subject), message: display(message) },
  };
}

function isWithin(time: IsoTime | null, { from, until }: ReportPeriod): boolean {
  if (time === null) return false;
  const at = Temporal.Instant.from(time).epochMilliseconds;
  return at >= from && at < until;
}

function safeKeys<Value>(values: Readonly<Record<string, Value>>): Record<string, Value> {
  return Object.fromEntries(Object.entries(values).map(([name, value]) => [display(name), value]));
}
