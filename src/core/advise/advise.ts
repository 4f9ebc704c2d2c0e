import type { Assessment } from '../assess/assessment.ts';
import type { Instant } from '../model.ts';
import type { Advisory, AdvisoryKind, Finding } from './advisory.ts';
import { type Announced, type AnnouncedEvent, type AnnounceReason, announce, remember } from './announce.ts';
import { CLEAR, type HysteresisState, isWorse, type Sighting, type StepReason, step } from './hysteresis.ts';
import type { HoldReason, Rule, Thresholds } from './rules/rule.ts';
import { RULES } from './rules/rules.ts';
import { hush, isSnoozed, type Snooze } from './snooze.ts';

/** What is remembered of one kind and subject. Serialisable as JSON. */
export interface SubjectState {
  id: string;
  kind: AdvisoryKind;
  subject: string;
  hysteresis: HysteresisState;
  announced: Announced | null;
  /** Somebody wants it quiet. Only of what is raised. */
  snooze: Snooze | null;
  /** The newest finding's words and figures. */
  latest: Pick<Finding, 'message' | 'figures' | 'remedies'>;
}

/** By id. Subjects that are clear are not kept. */
export type AdviceState = ReadonlyMap<string, SubjectState>;

/** What was decided for one subject in one pass, with its reasons; for log and metrics. */
export interface Decision {
  id: string;
  step: StepReason;
  announce: AnnounceReason;
  hold: HoldReason | null;
}

/** An advisory that is raised, and whether somebody wants it quiet. */
export interface StandingAdvisory extends Advisory {
  snooze: Snooze | null;
}

export interface Advice {
  state: AdviceState;
  /** Raised now, in the order of `raisedAdvisories`. */
  advisories: StandingAdvisory[];
  announcements: { event: AnnouncedEvent; advisory: Advisory; reason: AnnounceReason }[];
  decisions: Decision[];
}

export const NO_ADVICE: AdviceState = new Map();

/**
 * One pass: every rule looks at the assessment, every subject takes one step, and what is new is announced, unless somebody
 * wants it quiet: what was not said counts as not told. Pure. Keep `state` durably before the announcements are sent, so that a
 * crash between loses one announcement and repeats none.
 */
export function advise(
  previous: AdviceState,
  assessment: Assessment,
  thresholds: Thresholds,
  now: Instant,
  rules: readonly Rule[] = RULES,
): Advice {
  const advice = { state: new Map<string, SubjectState>(), announcements: [], decisions: [] };
  for (const rule of rules) passRule(rule, previous, assessment, thresholds, now, advice);
  return { ...advice, advisories: raisedAdvisories(advice.state) };
}

/** Stable over restarts. */
function advisoryId(kind: AdvisoryKind, subject: string): string {
  return `${kind}:${subject}`;
}

/**
 * The advisories that are raised in a state: most severe first, then in the order of the rules, then the oldest; below the others
 * those that are snoozed.
 */
export function raisedAdvisories(state: AdviceState): StandingAdvisory[] {
  return [...state.values()]
    .flatMap((subject) => {
      const advisory = advisoryOf(subject, subject.hysteresis);
      return advisory === null ? [] : [{ ...advisory, snooze: isSnoozed(subject.snooze) ? subject.snooze : null }];
    })
    .sort(byUrgency);
}

interface Gathered {
  state: Map<string, SubjectState>;
  announcements: Advice['announcements'];
  decisions: Decision[];
}

function passRule(
  rule: Rule,
  previous: AdviceState,
  assessment: Assessment,
  thresholds: Thresholds,
  now: Instant,
  gathered: Gathered,
): void {
  const holdTimes = rule.immediate ? { raiseAfter: 0, clearAfter: 0 } : thresholds;
  const { findings, standing = [], holds } = rule.evaluate(assessment, thresholds);
  const found = new Map(findings.map((finding) => [finding.subject, finding]));
  const known = [...previous.values()].filter((subject) => subject.kind === rule.kind);
  for (const subject of new Set([...known.map((state) => state.subject), ...found.keys()])) {
    const finding = found.get(subject);
    const hold = finding === undefined ? holds(subject) : null;
    const sighting: Sighting = finding?.severity ?? (hold === null ? 'none' : 'held');
    const before = previous.get(advisoryId(rule.kind, subject)) ?? fresh(rule.kind, subject);
    const said = finding ?? standing.find((one) => one.subject === subject);
    const current = said === undefined ? before : { ...before, latest: contentOf(said) };
    passSubject(current, sighting, hold, now, holdTimes, gathered);
  }
}

function passSubject(
  subject: SubjectState,
  sighting: Sighting,
  hold: HoldReason | null,
  now: Instant,
  holdTimes: { raiseAfter: number; clearAfter: number },
  gathered: Gathered,
): void {
  const stepped = step(subject.hysteresis, sighting, now, holdTimes);
  const severity = stepped.state.phase === 'raised' ? stepped.state.severity : null;
  const wouldSay = announce(stepped.change, subject.announced, severity, now);
  const said = hush(subject.snooze, wouldSay, subject.announced, severity, now);
  // A cleared advisory is announced as it last was.
  const advisory = advisoryOf(subject, severity === null ? subject.hysteresis : stepped.state);
  if (said.event !== null && advisory !== null) {
    gathered.announcements.push({ event: said.event, advisory, reason: said.reason });
  }
  gathered.decisions.push({ id: subject.id, step: stepped.reason, announce: said.reason, hold });
  if (stepped.state.phase === 'clear') return;
  const announced = severity === null ? null : remember(subject.announced, said.event, severity, now);
  gathered.state.set(subject.id, { ...subject, hysteresis: stepped.state, announced, snooze: said.snooze });
}

function fresh(kind: AdvisoryKind, subject: string): SubjectState {
  const latest = { message: '', figures: {}, remedies: [] };
  return { id: advisoryId(kind, subject), kind, subject, hysteresis: CLEAR, announced: null, snooze: null, latest };
}

function contentOf({ message, figures, remedies }: Finding): SubjectState['latest'] {
  return { message, figures, remedies };
}

function advisoryOf({ id, kind, subject, latest }: SubjectState, hysteresis: HysteresisState): Advisory | null {
  if (hysteresis.phase !== 'raised') return null;
  return { id, kind, severity: hysteresis.severity, subject, since: hysteresis.since, ...latest };
}

/** The state with what was said of advisories put in; of one that is not raised any more nothing is. */
export function withSnoozes(state: AdviceState, snoozes: ReadonlyMap<string, Snooze>): AdviceState {
  const entries = [...state].map(([id, subject]): [string, SubjectState] => {
    const snooze = subject.hysteresis.phase === 'raised' ? snoozes.get(id) : undefined;
    return [id, snooze === undefined ? subject : { ...subject, snooze }];
  });
  return new Map(entries);
}

/** What concerns a whole volume before what concerns one file. */
function rankOf({ kind }: Advisory): number {
  return RULES.findIndex((rule) => rule.kind === kind);
}

function byUrgency(one: StandingAdvisory, other: StandingAdvisory): number {
  if ((one.snooze === null) !== (other.snooze === null)) return one.snooze === null ? -1 : 1;
  if (one.severity !== other.severity) return isWorse(one.severity, other.severity) ? -1 : 1;
  return rankOf(one) - rankOf(other) || one.since - other.since || (one.id < other.id ? -1 : 1);
}
