import type { Snooze } from '../advise/snooze.ts';
import type { Severity } from '../model.ts';
import { display } from './escape.ts';
import type { IsoOf, IsoTime } from './iso-time.ts';
import { shortTime } from './sentences.ts';
import type { AdvisorySnapshot } from './snapshot.ts';
import { wrap } from './text.ts';

/** That somebody wants an advisory quiet. Texts are escaped. */
export interface SnoozeSnapshot {
  /** Quiet until it is over or gets worse. */
  known: boolean;
  saidAt: IsoTime;
  saidBy: string;
  /** `null`: none was given. */
  reason: string | null;
  /** How severe it was then. */
  severity: Severity;
  /** When it is told again by itself; `null`: not by time. */
  until: IsoTime | null;
  /** It comes back then because it is critical, whatever was asked for. */
  untilCritical: boolean;
}

type Snoozable = Pick<AdvisorySnapshot, 'severity' | 'message' | 'since'> & Partial<AdvisorySnapshot>;

export function snoozeSnapshot({ reason, until, ends, ...said }: Snooze, iso: IsoOf): SnoozeSnapshot {
  return {
    known: said.isKnown,
    saidAt: iso(said.saidAt),
    saidBy: display(said.saidBy),
    reason: reason === '' ? null : display(reason),
    severity: said.severity,
    until: until === null ? null : iso(until),
    untilCritical: ends === 'as-critical',
  };
}

/** Those that speak, and those that somebody wants quiet. A snapshot of an earlier version knows no quiet. */
export function bySnooze<Shown extends Snoozable>(advisories: readonly Shown[]): { told: Shown[]; snoozed: Shown[] } {
  const isSnoozed = ({ snooze }: Shown) => (snooze ?? null) !== null;
  return { told: advisories.filter((one) => !isSnoozed(one)), snoozed: advisories.filter(isSnoozed) };
}

/** `1 known, 2 snoozed`; `null`: none. */
export function snoozedCount(snoozed: readonly Snoozable[]): string | null {
  const known = snoozed.filter(({ snooze }) => snooze?.known === true).length;
  const counts = [
    ...(known === 0 ? [] : [`${known} known`]),
    ...(snoozed.length === known ? [] : [`${snoozed.length - known} snoozed`]),
  ];
  return counts.length === 0 ? null : counts.join(', ');
}

/** What an advisory says, how it is called, and since when it stands: `stripe has ... left. (t68js, since 11:59.)` */
export function advisorySentence({ message, code, since }: Snoozable, at: IsoTime): string {
  const time = shortTime(since, at);
  return `${message} ${code === undefined ? `(Since ${time}.)` : `(${code}, since ${time}.)`}`;
}

/** Who wants it quiet, why, and until when; `null`: nobody. */
export function snoozeSentence({ snooze }: Snoozable, at: IsoTime): string | null {
  if (snooze === null || snooze === undefined) return null;
  const { known, reason, saidAt, saidBy, until, untilCritical } = snooze;
  const said = `${saidBy}, ${shortTime(saidAt, at)}`;
  const who = `${known ? 'Known' : 'Snoozed'} (${reason === null ? said : `"${reason}", ${said}`}):`;
  if (until === null) return `${who} quiet until it is over or gets worse.`;
  const back = shortTime(until, at);
  return untilCritical
    ? `${who} comes back at ${back} because it is critical.`
    : `${who} quiet until ${back}, unless it gets worse.`;
}

/** A snoozed advisory in lines: what it says, and who wants it quiet. */
export function snoozedLines(advisory: Snoozable, at: IsoTime, width: number): string[] {
  return [
    ...wrap(advisorySentence(advisory, at), width, `  ${advisory.severity}  `),
    ...wrap(snoozeSentence(advisory, at) ?? '', width, '    '),
  ];
}
