import type { Assessment } from '../../assess/assessment.ts';
import { display } from '../../present/escape.ts';
import { formatCount, formatDuration, listWords } from '../../units.ts';
import type { Finding } from '../advisory.ts';
import { type Rule, type RuleResult, resultOf } from './rule.ts';

/** Folders without a watch are gone through once a minute, or so many in a second (rim/watch/rounds.ts). */
const ROUND_SECONDS = 60;
const FOLDERS_A_SECOND = 50;

/** A limit of the system leaves folders without a watch. It is one for all volumes: the subject is the limit. */
export const watchLimit: Rule = {
  kind: 'watch-limit',
  immediate: false,
  evaluate({ volumes }: Assessment): RuleResult {
    const limited = volumes.flatMap(({ name, watchLimit: limit }) => (limit === null ? [] : [{ name, limit }]));
    const byLimit = Map.groupBy(limited, ({ limit }) => `fs.inotify.${limit.name}`);
    return resultOf(
      [...byLimit].map(([subject, found]) => [subject, findingOf(subject, found)] as const),
      // Of a volume that is away nobody knows how many folders it needs.
      () => volumes.some(({ state }) => state !== 'live'),
    );
  },
};

function findingOf(
  subject: string,
  found: readonly { name: string; limit: { folders: number; wanted: number } }[],
): Finding {
  const folders = found.reduce((sum, { limit }) => sum + limit.folders, 0);
  const wanted = Math.max(...found.map(({ limit }) => limit.wanted));
  const late = formatDuration(Math.max(ROUND_SECONDS, folders / FOLDERS_A_SECOND));
  const volumes = listWords(found.map(({ name }) => display(name)));
  return {
    kind: 'watch-limit',
    subject,
    severity: 'notice',
    message: `${formatCount(folders, 'folder')} on ${volumes} cannot be watched, for the limit of ${subject} is used up: what comes there is found within about ${late}, not at once.`,
    figures: { folders, wanted },
    remedies: [
      {
        action: `Raise it with: sudo sysctl ${subject}=${wanted}`,
        effect: `all ${formatCount(folders, 'folder')} are watched soon after; written into a file below /etc/sysctl.d it outlasts a restart`,
      },
    ],
  };
}
