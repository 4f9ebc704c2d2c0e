import type { Assessment } from '../../assess/assessment.ts';
import { unitOf } from '../../intake/group.ts';
import type { Arrival, PathText } from '../../model.ts';
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
      const away = new Set(assessment.volumes.filter(({ state }) => state !== 'live').map(({ name }) => name));
      const findings = assessment.arrivals
        .filter((arrival) => arrival.stage === stage && !away.has(arrival.volume))
        .map((arrival) => findingOf(kind, arrival));
      return { findings, holds: holder(assessment, away) };
    },
  };
}

/** `volume/path`: one advisory per arrival. */
function subjectOf(arrival: Arrival): string {
  return `${arrival.volume}/${arrival.path}`;
}

/**
 * While a root is away nothing new is known of its arrivals. After a restart an arrival is looked at afresh, at first
 * together with the other files of its unit: until that ends, what was said of it stands.
 */
function holder({ arrivals, volumes }: Assessment, away: ReadonlySet<string>): RuleResult['holds'] {
  const bySubject = new Map(arrivals.map((arrival) => [subjectOf(arrival), arrival]));
  const judged = new Set(arrivals.filter(isJudged).map(({ volume, unit }) => `${volume}/${unit}`));
  return (subject): HoldReason | null => {
    const root = volumes.find(({ name }) => subject.startsWith(`${name}/`))?.name;
    if (root === undefined) return null;
    if (away.has(root)) return 'root-not-live';
    const arrival = bySubject.get(subject);
    if (arrival !== undefined) return isJudged(arrival) ? 'judged-again' : null;
    return judged.has(`${root}/${unitOfFile(subject.slice(root.length + 1))}`) ? 'judged-again' : null;
  };
}

function isJudged({ stage }: Arrival): boolean {
  return stage === 'settling' || stage === 'probing';
}

/** Footage alone holds up its unit, and of footage the kind does not change the unit. */
function unitOfFile(path: PathText): string {
  return unitOf(path, 'original');
}

function findingOf(kind: AdvisoryKind, arrival: Arrival): Finding {
  return {
    kind,
    subject: subjectOf(arrival),
    severity: 'warning',
    message: messageOf(kind, arrival),
    figures: { bytes: arrival.bytes, reason: arrival.reason, detail: arrival.detail },
    remedies: [
      {
        action: (ARRIVAL_WORDS[arrival.reason].todo ?? LOOK).replace(/\.$/, ''),
        effect: `${arrival.bytes > 0 ? `${formatBytes(arrival.bytes)} of it are here; ` : ''}it is judged anew as soon as it changes`,
      },
    ],
  };
}

/** Where the reason says nothing to do. */
const LOOK = 'Look whether its copy still goes on. If not, copy it again from its source, and keep the card.';

function messageOf(kind: AdvisoryKind, arrival: Arrival): string {
  const words = ARRIVAL_WORDS[arrival.reason];
  const detail = arrival.detail === null ? '' : ` (${display(arrival.detail)})`;
  const what = kind === 'arrival-stalled' ? `has stopped at ${formatBytes(arrival.bytes)}` : 'was refused';
  return `${display(arrival.path)} on ${display(arrival.volume)} ${what}: ${words.means}${detail}.`;
}
