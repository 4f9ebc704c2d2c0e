import type { AdvisoryKind } from '../advise/advisory.ts';
import { cutTitle, firstSentence } from '../notify/message.ts';
import { formatBytes, formatCount, formatDuration, listWords } from '../units.ts';
import { bySnooze } from './advisory-words.ts';
import type { IsoTime } from './iso-time.ts';
import type { Report } from './report.ts';
import { isRunGood, type ReportRun } from './report-run.ts';
import { shortTime } from './sentences.ts';

/** Has all footage the copies that are wanted? `none-here`: there is no footage. */
export type CopiesVerdict = 'all' | 'lacking' | 'not-known' | 'none-here';

/** What is not as it should be besides. Closed set, the worst first. */
export type ReportTrouble =
  | 'critical-advisory'
  | 'volume-not-live'
  | 'card-lacking'
  | 'refused'
  | 'backup-failed'
  | 'incomplete'
  | 'warning';

export interface Verdict {
  copies: CopiesVerdict;
  troubles: ReportTrouble[];
  /** The first sentence, and what goes with it. */
  headline: string;
  /** A subject line: the worst, in words. */
  title: string;
}

export type Judged = Omit<Report, 'verdict'>;

interface Exposed {
  bytes: number;
  clips: number;
  seconds: number;
  since: IsoTime | null;
}

/** Whether it was a good night. Of what is not known nothing good is said. */
export function verdictOf(report: Judged): Verdict {
  const exposed = exposedOf(report);
  const copies = copiesOf(report, exposed);
  const troubles = troublesOf(report);
  const words = troubles.map(({ words }) => words);
  return {
    copies,
    troubles: troubles.map(({ kind }) => kind),
    headline: headlineOf(report, copies, exposed, words),
    title: titleOf(report, copies, exposed, words),
  };
}

/** `null`: of a volume it is not known. */
function exposedOf({ volumes }: Judged): Exposed | null {
  const all: Exposed = { bytes: 0, clips: 0, seconds: 0, since: null };
  for (const { safety } of volumes) {
    if (safety.exposedBytes === null || safety.exposedClips === null) return null;
    all.bytes += safety.exposedBytes;
    all.clips += safety.exposedClips;
    all.seconds += safety.exposedSeconds ?? 0;
    all.since = earlier(all.since, safety.exposedSince);
  }
  return all;
}

function earlier(one: IsoTime | null, other: IsoTime | null): IsoTime | null {
  if (one === null || other === null) return one ?? other;
  return Temporal.Instant.compare(one, other) <= 0 ? one : other;
}

function copiesOf({ volumes, arrived, hasFootage }: Judged, exposed: Exposed | null): CopiesVerdict {
  if (exposed === null || volumes.length === 0) return 'not-known';
  if (exposed.bytes > 0 || exposed.clips > 0) return 'lacking';
  return hasFootage || arrived.some(({ clips }) => clips > 0) ? 'all' : 'none-here';
}

/** What the other troubles say already, or the copies. */
const TOLD_OTHERWISE: ReadonlySet<AdvisoryKind> = new Set([
  ...(['volume-absent', 'card-incomplete', 'arrival-refused', 'arrival-stalled'] as const),
  ...(['backup-failed', 'take-incomplete', 'footage-exposed'] as const),
]);

/** Each with its words, as they go behind "but". */
function troublesOf(report: Judged): { kind: ReportTrouble; words: string }[] {
  const { volumes, cards, halted, incomplete } = report;
  // What somebody knows of makes no night a bad one; it is told below all the same.
  const advisories = bySnooze(report.advisories).told;
  const critical = advisories.filter(({ severity }) => severity === 'critical').length;
  const warnings = advisories.filter(
    ({ kind, severity }) => severity === 'warning' && !TOLD_OTHERWISE.has(kind),
  ).length;
  const away = volumes.filter(({ state }) => state !== 'live').map(({ name }) => name);
  const lacking = cards.filter(({ missingFootage, wasComplete }) => missingFootage > 0 && !wasComplete).length;
  const failed = failedRuns(report.runs).map(({ volume, to }) => `${volume} to ${to}`);
  const known = new Set(
    bySnooze(report.advisories).snoozed.flatMap(({ kind, subject }) => (kind === 'take-incomplete' ? [subject] : [])),
  );
  const takes = incomplete
    .filter(({ volume, project }) => !known.has(`${volume}/${project}`))
    .reduce((sum, one) => sum + one.takes.length, 0);
  const found: [ReportTrouble, boolean, string][] = [
    [
      'critical-advisory',
      critical > 0,
      `${formatCount(critical, 'critical advisory', 'critical advisories')} stand${critical === 1 ? 's' : ''}`,
    ],
    ['volume-not-live', away.length > 0, `${listWords(away)} could not be looked at`],
    [
      'card-lacking',
      lacking > 0,
      `of ${formatCount(lacking, 'card or list', 'cards or lists')} footage has not arrived`,
    ],
    [
      'refused',
      halted.length > 0,
      `${formatCount(halted.length, 'file or sequence was', 'files or sequences were')} refused, stopped or not whole`,
    ],
    ['backup-failed', failed.length > 0, `the backup of ${listWords(failed)} did not do all of its work`],
    ['incomplete', takes > 0, `${formatCount(takes, 'take lacks', 'takes lack')} parts or frames`],
    ['warning', warnings > 0, `${formatCount(warnings, 'warning stands', 'warnings stand')}`],
  ];
  return found.flatMap(([kind, holds, words]) => (holds ? [{ kind, words }] : []));
}

/** Of each volume and shelf the last run, where that was not good: what a later one made good is over. */
function failedRuns(runs: readonly ReportRun[]): ReportRun[] {
  const last = new Map(runs.map((run) => [JSON.stringify([run.by, run.volume, run.to]), run]));
  return [...last.values()].filter((run) => !isRunGood(run));
}

const LACK_KNOWLEDGE =
  'Whether everything that arrived has its copies is not known: what is recorded of copies is incomplete. Count everything as not copied, and keep the cards.';

function headlineOf(report: Judged, copies: CopiesVerdict, exposed: Exposed | null, words: string[]): string {
  const but = words.length === 0 ? '.' : `, but ${listWords(words)}.`;
  const besides = words.length === 0 ? '' : ` Besides, ${listWords(words)}.`;
  if (copies === 'not-known' || exposed === null) return `${LACK_KNOWLEDGE}${besides}`;
  if (copies === 'none-here') return `Nothing arrived, and no footage is here${but}`;
  const arrived = report.arrived.some(({ clips }) => clips > 0);
  if (copies === 'all') {
    const all = arrived
      ? 'Everything that arrived has its copies'
      : 'Nothing arrived, and all footage that is here has its copies';
    return `${all}${but}`;
  }
  const since = exposed.since === null ? '' : `, the oldest since ${shortTime(exposed.since, report.at)}`;
  return `Not everything has its copies: ${exposedWords(exposed)} fewer verified copies than you want${since}. Keep the cards.${besides}`;
}

function exposedWords({ bytes, clips, seconds }: Exposed): string {
  if (clips === 0) return `${formatBytes(bytes)} of footage, no whole clip among it yet, has`;
  const time = seconds === 0 ? '' : `, ${formatDuration(seconds)}`;
  return `${formatCount(clips, 'clip')} (${formatBytes(bytes)}${time}) ${clips === 1 ? 'has' : 'have'}`;
}

/** What is critical first, then what lacks copies, then the rest. */
function titleOf(report: Judged, copies: CopiesVerdict, exposed: Exposed | null, words: string[]): string {
  const critical = bySnooze(report.advisories).told.find(({ severity }) => severity === 'critical');
  if (critical !== undefined) return cutTitle(`Report, critical: ${firstSentence(critical.message)}`);
  const but = words.length === 0 ? '' : `, but ${listWords(words)}`;
  if (copies === 'not-known' || exposed === null)
    return 'Report: whether everything that arrived has its copies is not known';
  if (copies === 'lacking') {
    const what = exposed.clips === 0 ? 'footage' : formatCount(exposed.clips, 'clip');
    return cutTitle(
      `Report: ${what} without ${exposed.clips > 1 ? 'their' : 'its'} copies (${formatBytes(exposed.bytes)})${but.replace(', but', '; besides,')}`,
    );
  }
  if (copies === 'none-here') return cutTitle(`Report: nothing arrived${but}`);
  const all = report.arrived.some(({ clips }) => clips > 0)
    ? 'everything that arrived'
    : 'nothing arrived, and all footage';
  return cutTitle(`Report: ${all} has its copies${but}`);
}
