import type { Advisory, AdvisoryKind, Figures, Remedy } from '../advise/advisory.ts';
import { codeOf } from '../advise/advisory-code.ts';
import type { Snooze } from '../advise/snooze.ts';
import type { Assessment } from '../assess/assessment.ts';
import { lastRead } from '../backup/last-read.ts';
import type { Arrival, ArrivalReason, Severity, UnitStage } from '../model.ts';
import { isoWithOffset } from '../units.ts';
import { type SnoozeSnapshot, snoozeSnapshot } from './advisory-words.ts';
import { display, displayOrNull } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import {
  type BackupSnapshot,
  backupSnapshot,
  type OnlyOnShelfSnapshot,
  onlyOnShelves,
  type ShelfSnapshot,
  shelfSnapshot,
} from './snapshot-backups.ts';
import { type CardSnapshot, cardSnapshot, type UnseenSnapshot, unseenSnapshot } from './snapshot-cards.ts';
import { type CommandSnapshot, commandSnapshot } from './snapshot-commands.ts';
import { type ProjectSnapshot, projectSnapshot } from './snapshot-project.ts';
import { safetySnapshot } from './snapshot-safety.ts';
import { type VerifySnapshot, verifySnapshot } from './snapshot-verify.ts';
import { type VolumeSnapshot, volumeSnapshot } from './snapshot-volume.ts';

/**
 * The contract of `status --json`, `GET /api/snapshot` and the page. Bytes are bytes, `...Bps` bytes per second,
 * durations seconds. Keys are only ever added. `null`: not known (or, of lists that are empty, nothing there).
 */
export interface Snapshot {
  version: string;
  at: IsoTime;
  page: string | null;
  volumes: VolumeSnapshot[];
  shelves: ShelfSnapshot[];
  projects: ProjectSnapshot[];
  /** All that has halted, and of what goes its way the first: the totals are of all. */
  arrivals: ArrivalSnapshot[];
  /** Of all arrivals that are not ready. */
  arrivalTotals: { pending: number; bytes: number };
  /** Cards that are there, and cards and manifests of which something has not arrived, or had not until a day ago. */
  cards: CardSnapshot[];
  /** Copied cards that were never seen as cards. */
  unseen: UnseenSnapshot[];
  backups: BackupSnapshot[];
  /** Programs of the user's that copy. */
  commands: CommandSnapshot[];
  /** Of each volume and shelf the last reading of its copies by command, or the one that is under way. */
  verifications: VerifySnapshot[];
  /** Files that are on a shelf and no longer on their volume, by project. */
  onlyOnShelves: OnlyOnShelfSnapshot[];
  /** Those that are snoozed come last. */
  advisories: AdvisorySnapshot[];
}

export interface ArrivalSnapshot {
  volume: string;
  path: string;
  state: UnitStage;
  reason: ArrivalReason;
  detail: string | null;
  bytes: number;
  bytesPerSecond: number | null;
  since: IsoTime;
}

export interface AdvisorySnapshot {
  id: string;
  /** Its short name, to be typed. */
  code: string;
  kind: AdvisoryKind;
  severity: Severity;
  subject: string;
  message: string;
  since: IsoTime;
  figures: Figures;
  remedies: Remedy[];
  /** Somebody wants it quiet; `null`: nobody. */
  snooze: SnoozeSnapshot | null;
}

/** An advisory, and what was said of it by a person, if anything. */
type ShownAdvisory = Advisory & { snooze?: Snooze | null };

/** What the snapshot needs to know besides the assessment. `zone`: IANA name or offset, for the instants. */
export interface SnapshotContext {
  version: string;
  /** Address of the status page; `null` when it is off. */
  page: string | null;
  zone: string;
  /** Of all arrivals that are not ready, where the assessment has only some of them. */
  arrivalTotals?: { pending: number; bytes: number };
}

/**
 * The one snapshot that the page, the socket and the command line show. Every key is always there; what is not known
 * is `null`. Every text that may hold a name is in its escaped form, so the snapshot can be shown anywhere as it is.
 */
export function snapshot(
  assessment: Assessment,
  advisories: readonly ShownAdvisory[],
  context: SnapshotContext,
): Snapshot {
  const iso: IsoOf = (instant) => isoWithOffset(instant, context.zone);
  return {
    version: context.version,
    at: iso(assessment.at),
    page: context.page,
    volumes: assessment.volumes.map((volume) =>
      volumeSnapshot(volume, iso, safetySnapshot(volume, copiesOf(assessment, volume.name), iso)),
    ),
    shelves: assessment.backups.shelves.map((shelf) => shelfSnapshot(shelf, assessment.backups, iso)),
    projects: assessment.projects
      .filter((project) => project.sum.area === 'project')
      .map((project) => projectSnapshot(project, iso, shootDayOn(assessment, project.sum.volume))),
    arrivals: assessment.arrivals.map((arrival) => arrivalOf(arrival, iso)),
    arrivalTotals: context.arrivalTotals ?? totalsOf(assessment.arrivals),
    cards: assessment.cards.map((card) => cardSnapshot(card, iso)),
    unseen: assessment.unseen.map((one) => unseenSnapshot(one, iso)),
    onlyOnShelves: onlyOnShelves(assessment.projects),
    backups: assessment.backups.runs.map((run) => backupSnapshot(run, iso)),
    commands: assessment.backups.commands.map((one) => commandSnapshot(one, assessment.backups, iso)),
    verifications: assessment.backups.verifications.map((run) => verifySnapshot(run, iso)),
    advisories: advisories.map((advisory) => advisorySnapshot(advisory, iso)),
  };
}

function copiesOf({ backups, onCards }: Assessment, volume: string): Parameters<typeof safetySnapshot>[1] {
  const outlook = backups.outlooks.get(volume) ?? null;
  const hasBackup =
    backups.shelves.some(({ volumes }) => volumes.includes(volume)) ||
    backups.commands.some((command) => command.volume === volume);
  return { verifiedAt: lastRead(backups, volume), outlook, onCards: onCards?.get(volume) ?? null, hasBackup };
}

/** Bytes of a middle day of shooting on a volume; `null` with too little history. */
function shootDayOn({ volumes }: Assessment, name: string): number | null {
  const forecast = volumes.find((volume) => volume.name === name)?.forecast ?? null;
  return forecast === null || forecast.basis === 'not-enough-history' ? null : forecast.shootDayBytes;
}

function totalsOf(arrivals: readonly Arrival[]): Snapshot['arrivalTotals'] {
  const pending = arrivals.filter(({ stage }) => stage !== 'ready');
  return { pending: pending.length, bytes: pending.reduce((sum, { bytes }) => sum + bytes, 0) };
}

function arrivalOf(arrival: Arrival, iso: IsoOf): ArrivalSnapshot {
  return {
    volume: display(arrival.volume),
    path: display(arrival.path),
    state: arrival.stage,
    reason: arrival.reason,
    detail: displayOrNull(arrival.detail),
    bytes: arrival.bytes,
    bytesPerSecond: arrival.bytesPerSecond,
    since: iso(arrival.since),
  };
}

/** One advisory as the snapshot has it. */
export function advisorySnapshot(advisory: ShownAdvisory, iso: IsoOf): AdvisorySnapshot {
  const { snooze = null } = advisory;
  return {
    id: display(advisory.id),
    code: codeOf(advisory.id),
    kind: advisory.kind,
    severity: advisory.severity,
    subject: display(advisory.subject),
    message: display(advisory.message),
    since: iso(advisory.since),
    figures: safeFigures(advisory.figures),
    remedies: advisory.remedies.map(({ action, effect }) => ({ action: display(action), effect: display(effect) })),
    snooze: snooze === null ? null : snoozeSnapshot(snooze, iso),
  };
}

function safeFigures(figures: Figures): Figures {
  const entries = Object.entries(figures);
  return Object.fromEntries(entries.map(([key, value]) => [key, typeof value === 'string' ? display(value) : value]));
}
