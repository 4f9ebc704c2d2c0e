import type { Advisory } from '../../core/advise/advisory.ts';
import type { Clock, Log, NotifyPort } from '../../core/ports.ts';
import { CLEARED_WORDS } from '../../core/present/wording.ts';
import { formatAge } from '../../core/units.ts';

/** Announces in the log. The first channel; others stand behind the same port. */
export function logNotify(log: Log, clock: Pick<Clock, 'now'>): NotifyPort {
  const openings = {
    first: () => '',
    worse: () => 'Worse: ',
    reminder: ({ since }: Advisory) => `Still, after ${formatAge((clock.now() - since) / 1000)}: `,
  };
  return {
    announce(event, advisory) {
      const fields = { advisory: advisory.id, event, severity: advisory.severity, figures: advisory.figures };
      if (event === 'cleared') return log.info(fields, `Over: ${CLEARED_WORDS[advisory.kind](advisory.subject)}`);
      const line = `${openings[event](advisory)}${advisory.message}${bestRemedy(advisory)}`;
      if (advisory.severity === 'critical') log.error(fields, line);
      else if (advisory.severity === 'warning') log.warn(fields, line);
      else log.info(fields, line);
    },
  };
}

function bestRemedy({ remedies: [best] }: Advisory): string {
  return best === undefined ? '' : ` ${best.action}: ${best.effect}.`;
}
