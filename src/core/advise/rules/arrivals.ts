import type { Assessment } from '../../assess/assessment.ts';
import type { Arrival } from '../../model.ts';
import { display } from '../../present/escape.ts';
import { ARRIVAL_WORDS } from '../../present/wording.ts';
import { formatBytes } from '../../units.ts';
import type { AdvisoryKind, Finding } from '../advisory.ts';
import type { HoldReason, Rule, RuleResult } from './rule.ts';

/** An arrival is incomplete and nothing has come for long: the copy was broken off, or the recording itself. */
export const arrivalStalled: Rule = arrivalRule('arrival-stalled', 'stalled');

/** An arrival will not become a clip as it is. */
export const arrivalRefused: Rule = arrivalRule('arrival-refused', 'refused');

/** One warning per arrival at `stage`. Settling has already waited, so it is raised at once. */
function arrivalRule(kind: AdvisoryKind, stage: 'stalled' | 'refused'): Rule {
  return {
    kind,
    immediate: true,
    evaluate(assessment: Assessment): RuleResult {
      const bySubject = new Map(assessment.arrivals.map((arrival) => [subjectOf(arrival), arrival]));
      const findings = assessment.arrivals
        .filter((arrival) => arrival.stage === stage)
        .map((arrival) => findingOf(kind, arrival));
      return { findings, holds: (subject) => holdOf(subject, assessment, bySubject.get(subject)) };
    },
  };
}

/** `volume/path`: one advisory per arrival. */
function subjectOf(arrival: Arrival): string {
  return `${arrival.volume}/${arrival.path}`;
}

/** After a restart an arrival is looked at afresh: until that ends, what was said of it stands. */
function holdOf(subject: string, assessment: Assessment, arrival: Arrival | undefined): HoldReason | null {
  const root = assessment.volumes.find((volume) => subject.startsWith(`${volume.name}/`));
  if (root !== undefined && root.state !== 'live') return 'root-not-live';
  return arrival?.stage === 'settling' || arrival?.stage === 'probing' ? 'judged-again' : null;
}

function findingOf(kind: AdvisoryKind, arrival: Arrival): Finding {
  return {
    kind,
    subject: subjectOf(arrival),
    severity: 'warning',
    message: messageOf(kind, arrival),
    figures: { bytes: arrival.bytes, reason: arrival.reason, detail: arrival.detail },
    remedies: [],
  };
}

function messageOf(kind: AdvisoryKind, arrival: Arrival): string {
  const words = ARRIVAL_WORDS[arrival.reason];
  const detail = arrival.detail === null ? '' : ` (${display(arrival.detail)})`;
  const what = kind === 'arrival-stalled' ? `has stopped at ${formatBytes(arrival.bytes)}` : 'was refused';
  const todo = words.todo === null ? '' : ` ${words.todo}`;
  return `${display(arrival.path)} on ${display(arrival.volume)} ${what}: ${words.means}${detail}.${todo}`;
}
