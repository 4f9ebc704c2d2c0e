import type { StoredAdvisory } from '../store-ports.ts';
import type { AdviceState, SubjectState } from './advise.ts';
import { RULES } from './rules/rules.ts';
import type { Snooze } from './snooze.ts';

type Field =
  | keyof SubjectState
  | keyof SubjectState['latest']
  | 'phase'
  | 'since'
  | 'severity'
  | 'falling'
  | 'to'
  | 'event'
  | 'at'
  | keyof Snooze;

/** One row per subject, in the order of the state. */
export function storeAdvice(state: AdviceState): StoredAdvisory[] {
  return [...state.values()].map((subject) => ({ id: subject.id, json: JSON.stringify(subject) }));
}

/**
 * Reads stored rows back. A row that is damaged, or of a kind that no rule knows any more, is left out and its id
 * returned in `dropped`: such an advisory is raised and announced anew if its condition still holds.
 */
export function restoreAdvice(rows: readonly StoredAdvisory[]): { state: AdviceState; dropped: string[] } {
  const state = new Map<string, SubjectState>();
  const dropped: string[] = [];
  for (const row of rows) {
    const subject = parse(row.json);
    // Rows of an earlier version know no snooze.
    if (isSubject(subject) && subject.id === row.id) state.set(row.id, { ...subject, snooze: subject.snooze ?? null });
    else dropped.push(row.id);
  }
  return { state, dropped };
}

function parse(json: string): unknown {
  try {
    return JSON.parse(json);
  } catch {
    return null;
  }
}

function isSubject(value: unknown): value is SubjectState {
  const { id, kind, subject, hysteresis, announced, snooze = null, latest } = fieldsOf(value);
  return (
    RULES.some((rule) => rule.kind === kind) &&
    typeof subject === 'string' &&
    id === `${kind}:${subject}` &&
    isHysteresis(hysteresis) &&
    (announced === null || isAnnounced(announced)) &&
    (snooze === null || isSnooze(snooze)) &&
    isContent(latest)
  );
}

function isHysteresis(value: unknown): boolean {
  const { phase, since, severity, falling } = fieldsOf(value);
  if ((phase !== 'pending' && phase !== 'raised') || !isTime(since) || !isSeverity(severity)) return false;
  if (phase === 'pending' || falling === null) return true;
  const { to, since: fallingSince } = fieldsOf(falling);
  return isTime(fallingSince) && (to === 'none' || isSeverity(to));
}

function isAnnounced(value: unknown): boolean {
  const { event, severity, at } = fieldsOf(value);
  return ['first', 'worse', 'reminder'].includes(String(event)) && isSeverity(severity) && isTime(at);
}

function isSnooze(value: unknown): boolean {
  const { saidAt, saidBy, reason, severity, isKnown, until, ends } = fieldsOf(value);
  const texts = [saidBy, reason].every((text) => typeof text === 'string') && typeof isKnown === 'boolean';
  const isEnd = ['as-asked', 'as-critical', 'lifted'].includes(String(ends)) && (until === null || isTime(until));
  return isTime(saidAt) && isSeverity(severity) && texts && isEnd;
}

function isContent(value: unknown): boolean {
  const { message, figures, remedies } = fieldsOf(value);
  return typeof message === 'string' && typeof figures === 'object' && figures !== null && Array.isArray(remedies);
}

function isSeverity(value: unknown): boolean {
  return value === 'notice' || value === 'warning' || value === 'critical';
}

function isTime(value: unknown): boolean {
  return typeof value === 'number' && Number.isFinite(value);
}

/** The fields of any value, each still unknown; none of what is no object. */
function fieldsOf(value: unknown): Partial<Record<Field, unknown>> {
  return typeof value === 'object' && value !== null ? value : {};
}
