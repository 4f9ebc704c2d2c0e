import { snoozeSentence } from './advisory-words.ts';
import type { Report, ReportNews } from './report.ts';
import { shortTime } from './sentences.ts';
import type { AdvisorySnapshot } from './snapshot.ts';
import { SEVERITY_WORDS } from './wording.ts';

/** What stands, with the first thing to do; and what came up and is over again. */
export function advisorySentences(report: Report): string[] {
  const { advisories, at } = report;
  return [
    ...(advisories.length === 0
      ? ['Nothing to warn of.']
      : advisories.flatMap((one) => standingSentences(one, report))),
    ...overNews(report).map(({ raised, cleared }) => overSentence(raised, cleared, at)),
  ];
}

function standingSentences(advisory: AdvisorySnapshot, { at, from }: Report): string[] {
  const { severity, message, since, remedies } = advisory;
  const snooze = snoozeSentence(advisory, at);
  const isNew = Temporal.Instant.compare(since, from) >= 0;
  return [
    `${SEVERITY_WORDS[severity]}${isNew ? ', new' : ''}: ${message} (Since ${shortTime(since, at)}.)`,
    ...(snooze === null ? [] : [snooze]),
    ...remedies.slice(0, 1).map(({ action, effect }) => `What to do: ${action}: ${effect}.`),
  ];
}

interface OverNews {
  /** `null`: it was raised before. */
  raised: ReportNews | null;
  /** `null`: that it is over was not noted; it does not stand any more. */
  cleared: ReportNews | null;
}

/** Each time that something was raised and does not stand now, or was over. What is worse or told again is the same one. */
function overNews({ news, advisories }: Report): OverNews[] {
  const open = new Map<string, ReportNews>();
  const over: OverNews[] = [];
  for (const one of news) {
    if (one.event === 'cleared') {
      over.push({ raised: open.get(one.id) ?? null, cleared: one });
      open.delete(one.id);
    } else if (one.event !== 'reminder' && !open.has(one.id)) open.set(one.id, one);
  }
  const standing = new Set(advisories.map(({ id }) => id));
  const lost = [...open.values()].filter(({ id }) => !standing.has(id));
  return [...over, ...lost.map((raised) => ({ raised, cleared: null }))];
}

function overSentence(raised: ReportNews | null, cleared: ReportNews | null, at: string): string {
  const was =
    raised === null
      ? ''
      : ` It was raised at ${shortTime(raised.at, at)} (${SEVERITY_WORDS[raised.severity].toLowerCase()}): ${raised.message}`;
  if (cleared === null) return `It does not stand any more.${was}`;
  return `Over at ${shortTime(cleared.at, at)}: ${cleared.message}${was}`;
}
